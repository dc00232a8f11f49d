"""The page: one file that needs nothing else, safe with any text, written whole or not at all."""

from html.parser import HTMLParser

import pytest
from plan_kit import Book, words

from hiveweek.show.files import write
from hiveweek.show.page import html
from hiveweek.texts.speaker import IMPERIAL

VOID = {"meta", "br", "img", "link", "input", "hr"}


class _Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open, self.seen, self.links, self.text = [], [], [], []

    def handle_starttag(self, tag, attrs):
        self.seen.append(tag)
        self.links += [value for key, value in attrs if key in ("src", "href", "action")]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


def _read(text):
    parser = _Tags()
    parser.feed(text)
    assert parser.open == []
    return parser


def _plan(because="Food for {food.days_left}.", hive="H1"):
    book = Book()
    book.rule(
        "f.candy", "food.days_left < 21", "feed-candy", gain=35, by=3, amount="{food.candy_kg} kg", because=because
    )
    book.rule("w.water", "site.water_near == false", "provide-water", gain=6)
    return book.plan(
        {
            hive: {"food.days_left": 4.0, "food.candy_kg": 2.5, "site.water_near": False, "weather.open_high_c": 5.0},
            "Z": {"food.days_left": 90.0, "site.water_near": True, "weather.open_high_c": 22.0},
        },
        with_facts=True,
    )


def test_the_page_stands_alone():
    text = html(_plan(), words())
    parser = _read(text)
    assert "script" not in parser.seen
    assert parser.links and all(link.startswith("#") and f'id="{link[1:]}"' in text for link in parser.links)


def test_the_page_says_what_the_screen_says():
    text = " ".join(" ".join(_read(html(_plan(), words(), with_facts=True)).text).split())
    for words_ in (
        "H1 walk 1 give candy above the bees (2.5 kg) food for 4 days",
        "Give candy above the bees: 2.5 kg, start by 13 March",
        "Food for 4 days.",
        "Hive Z",
        "For the whole yard",
        "Your round",
        "What is known",
    ):
        assert words_ in text


def test_words_of_the_keeper_cannot_become_markup():
    text = html(_plan(hive="<b>1</b>"), words())
    assert "<b>1</b>" not in text and "&lt;b&gt;1&lt;/b&gt;" in text


def test_imperial_on_the_page():
    assert "4 °C" not in html(_plan("At {weather.open_high_c}."), words(), speaker=IMPERIAL).replace("5 °C (41 °F)", "")


def test_a_page_is_written_whole_or_not_at_all(tmp_path):
    path = tmp_path / "week.html"
    write(path, "one")
    assert path.read_text(encoding="utf-8") == "one" and [p.name for p in tmp_path.iterdir()] == ["week.html"]
    with pytest.raises(OSError):
        write(tmp_path / "no" / "week.html", "two")
    with pytest.raises(UnicodeEncodeError):
        write(path, "\ud800")
    assert path.read_text(encoding="utf-8") == "one" and [p.name for p in tmp_path.iterdir()] == ["week.html"]
