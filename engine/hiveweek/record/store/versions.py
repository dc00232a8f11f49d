"""The version of the record's tables that this program writes; the newest of ``migrations/versions``."""

HEAD = "0002"
