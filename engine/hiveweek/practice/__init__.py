"""Practice: scenarios in which nothing can die, what a learner would do there, and marks for it."""
