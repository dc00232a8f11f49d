"""What the advice is worth: many seasons of a simulated world under several keepers."""
