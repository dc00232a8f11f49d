"""One catalogue of English: nothing for people is written elsewhere, every message is there, and every message is said."""

import ast
import re
import string
from html.parser import HTMLParser
from itertools import combinations
from pathlib import Path

import pytest

from hiveweek.texts import english
from hiveweek.texts.english import climate, commands, page, plan, records, screens
from hiveweek.texts.parts import message
from hiveweek.texts.speaker import METRIC

ENGINE = Path(english.__file__).parents[2]
SAYING = {"message", "says"}
# what a keeper or an author never reads as a sentence: errors (each where it is raised), and codes of facts and channels
RAISING = {"Problem", "problem", "InputProblems", "ValueError", "TypeError", "KeyError", "_word", "_problem"}
CODES = {
    "carried forward",
    "carried forward from ",
    "implied by ",
    "observed nearby",
    "not looked at since ",
    "by the clock from ",
    "cut by the heft of ",
    "it does not fit what was carried forward from ",
    "usual here",
    "not asked",
    "not run",
    "degC days",
    "OLD NEW",  # the names of two words of a command, as it prints them
}
PAGES = sorted(str(path.relative_to(ENGINE)) for path in (ENGINE / "serve" / "templates").glob("*.j2"))
ENGLISH = re.compile(r"[A-Za-z]{2,}[,;:.]? [A-Za-z(]")
ROOMS = ["plan", "show", "serve", "cli"]


def _calls(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            yield name, node


def _strings(node, documented=frozenset()):
    """Every string of a module that is no docstring and no part of an error."""
    if isinstance(node, ast.Call):
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        if name in RAISING:
            return
    if (
        isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef))
        and ast.get_docstring(node) is not None
    ):
        documented = documented | {id(node.body[0].value)}
    if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documented:
        yield node
    for child in ast.iter_child_nodes(node):
        yield from _strings(child, documented)


def stray(text: str) -> list[str]:
    """English that a module would say by itself."""
    return [n.value for n in _strings(ast.parse(text)) if ENGLISH.search(n.value) and n.value not in CODES]


@pytest.mark.parametrize("room", ROOMS)
def test_no_english_stands_outside_the_catalogue(room):
    found = {path.name: stray(path.read_text(encoding="utf-8")) for path in sorted((ENGINE / room).rglob("*.py"))}
    found.pop("ranking.py", None)  # reads a file: all it says are errors
    assert {name: texts for name, texts in found.items() if texts} == {}


def test_stray_english_is_found():
    assert stray('print(f"{n} hives are light")\nraise ValueError("not a hive at all")') == [" hives are light"]


class _Texts(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open, self.texts = [], []

    def handle_starttag(self, tag, attrs):
        self.open.append(tag)

    def handle_endtag(self, tag):
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data):
        if "style" not in self.open:
            self.texts.append(data)


@pytest.mark.parametrize("name", ["show/templates/week.html.j2", *PAGES])
def test_the_page_has_no_words_of_its_own(name):
    template = (ENGINE / name).read_text(encoding="utf-8")
    parser = _Texts()
    parser.feed(re.sub(r"\{%.*?%\}|\{\{.*?\}\}", "", template, flags=re.S))
    assert re.findall(r"[A-Za-z]{2,}", " ".join(parser.texts)) == []


def _modules():
    for path in sorted(ENGINE.rglob("*.py")):
        if path.parent.name != "english":
            yield path, ast.parse(path.read_text(encoding="utf-8"))


def test_every_message_that_is_named_stands_in_the_catalogue_with_the_places_that_are_filled():
    """Reads every call with its id written out; ids put together are met by the tests of the screens."""
    seen = 0
    for path, tree in _modules():
        for name, node in _calls(tree):
            if name not in SAYING or not node.args or not isinstance(node.args[0], ast.Constant):
                continue
            id, given = node.args[0].value, {keyword.arg for keyword in node.keywords}
            places = {place for _, place, _, _ in string.Formatter().parse(english.MESSAGES[id]) if place}
            assert places <= given or None in given, (path.name, id, places - given)
            seen += 1
    assert seen > 200


def test_every_message_is_said_somewhere():
    """By its whole id, or by an id put together at the end (``f"needs.{key}"``)."""
    whole, starts = set(), set()
    for _, tree in _modules():
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                whole.add(node.value)
            elif isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
                starts.add(node.values[0].value)
    for template in ENGINE.glob("*/templates/*.j2"):
        whole |= set(re.findall(r'message\("([^"]+)"', template.read_text(encoding="utf-8")))
    starts = tuple(start for start in starts if re.fullmatch(r"[a-z.-]+[.-]", start)) + ("range.",)
    assert [id for id in english.MESSAGES if id not in whole and not id.startswith(starts)] == []


def test_no_id_stands_twice():
    for one, other in combinations((plan, screens, climate, commands, records, page), 2):
        assert not set(one.MESSAGES) & set(other.MESSAGES)


def test_every_message_can_be_said():
    for id, text in english.MESSAGES.items():
        places = {place for _, place, _, _ in string.Formatter().parse(text) if place}
        said = METRIC.say(message(id, **{place: f"<{place}>" for place in places}))
        assert all(f"<{place}>" in said for place in places) and "{" not in said, id
