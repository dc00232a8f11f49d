"""Words of the trade for beginners who practise: what they mean, asked for or beside an answer that uses them."""

from __future__ import annotations

import re
from collections.abc import Iterable

from hiveweek.texts.parts import Phrase, message
from hiveweek.texts.speaker import says

MOST = 4  # words that are told beside one answer
IDS = (
    "brood-box",
    "brood",
    "candy",
    "capped",
    "charged",
    "clustering-season",
    "cluster",
    "crop",
    "dearth",
    "drone",
    "excluder",
    "flow",
    "forage",
    "frame",
    "heft",
    "larva",
    "mouse-guard",
    "nectar",
    "nucleus-box",
    "refractometer",
    "ripe",
    "robbers",
    "stores",
    "super",
    "test-frame",
    "winter-bees",
    "wrap",
)
# Told where they are asked for: words that stand on the screen, and some that in other texts mean something else.
ASKED = (
    "hop-acids",
    "pyrethroid",
    "oxalic-strip",
    "dribble",
    "vapour",
    "evaporator",
    "pad",
    "gel",
    "wafer",
    "ropes",
    "sure",
    "amitraz",
    "authority",
    "broodless",
    "cappings",
    "caps",
    "colony",
    "deep",
    "double",
    "drawn",
    "droppings",
    "eggs",
    "failing",
    "formic",
    "foulbrood",
    "hive-tool",
    "jelly",
    "laying",
    "lid",
    "match",
    "mite",
    "notifiable",
    "oxalic",
    "patchy",
    "play-cups",
    "pollen",
    "queen-cell",
    "queenless",
    "ropy",
    "sample",
    "sealed",
    "single",
    "solid",
    "split",
    "strip",
    "swarm",
    "thick-syrup",
    "thin-syrup",
    "thymol",
    "tray",
    "unite",
    "varroa",
    "virgin",
    "wash",
    "worker",
)


def word(text: str) -> Phrase | None:
    """Return what a word means, in the singular or plural; None for a word that is not told."""
    said = " ".join(text.casefold().split())
    found = next((one for one in (*IDS, *ASKED) if _whole(one).fullmatch(said)), None)
    return None if found is None else _meaning(found)


def within(text: str) -> list[Phrase]:
    """Return what those words of a text mean that are told."""
    return [meaning for one in text.split() if (meaning := word(one)) is not None]


def words_in(texts: Iterable[str], told: Iterable[str]) -> list[Phrase]:
    """Return what the words in some texts mean, first met first; not of those that stand in what was told, which explains its own."""
    here, before = (" ".join(some).casefold() for some in (texts, told))
    met = {one: place.start() for one in IDS if (place := _whole(one).search(here)) and not _whole(one).search(before)}
    return [_meaning(one) for one in sorted(met, key=lambda one: (met[one], -len(one)))][:MOST]


def _whole(one: str) -> re.Pattern[str]:
    return re.compile(rf"\b{says(f'practice.word-{one}').partition(':')[0]}(?:s|e)?\b")


def _meaning(one: str) -> Phrase:
    return message(f"practice.word-{one}")
