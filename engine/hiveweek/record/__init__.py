"""The record: dated entries of what was seen, set, done and answered at each hive, and the places where hives stood."""

from hiveweek.record.entries import Answer, Entry, Kind, Plain
from hiveweek.record.record import Apiary, Hive, Placement, Record

__all__ = ["Answer", "Apiary", "Entry", "Hive", "Kind", "Placement", "Plain", "Record"]
