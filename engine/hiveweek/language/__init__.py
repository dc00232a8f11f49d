"""The rule language: terms, conditions, three-valued truth, and what a condition means."""
