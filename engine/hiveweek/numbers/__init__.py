"""The one store of named numbers: ``limit.*``, ``model.*``, ``season.*``, ``weather.*``, ``plan.*``, and who moved them."""

from hiveweek.numbers.reader import shipped
from hiveweek.numbers.store import Branch, Number, Numbers

__all__ = ["Branch", "Number", "Numbers", "shipped"]
