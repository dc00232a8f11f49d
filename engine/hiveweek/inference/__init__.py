"""What the rules conclude: the columnar definition, the second channel, their comparison."""
