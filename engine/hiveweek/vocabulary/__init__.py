"""The words of the trade as data."""

from hiveweek.vocabulary.loader import load, read_vocabulary
from hiveweek.vocabulary.model import Action, Fact, Source, Vocabulary, text_code

__all__ = ["Action", "Fact", "Source", "Vocabulary", "load", "read_vocabulary", "text_code"]
