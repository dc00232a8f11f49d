"""The record on disk or on a server."""

from hiveweek.record.store.faults import StoreFault
from hiveweek.record.store.store import Store, open_store

__all__ = ["Store", "StoreFault", "open_store"]
