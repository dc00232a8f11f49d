"""hiveweek: what to do this week, for each hive, and why."""

__version__ = "0.1.0"
