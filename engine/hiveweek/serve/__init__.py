"""The week on a local page: for a phone in the yard, for a browser at the table."""
