"""Notes in a keeper's words: a table of phrases and a small grammar over it. No guessing: what has two readings is asked."""

from hiveweek.record.notes.phrase import phrase_for
from hiveweek.record.notes.reading import Asked, Left, Read, Said, read_note
from hiveweek.record.notes.table import Table, shipped

__all__ = ["Asked", "Left", "Read", "Said", "Table", "phrase_for", "read_note", "shipped"]
