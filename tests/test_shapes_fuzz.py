"""A value of another kind anywhere in a content file gives problems with places, never a traceback."""

import copy
import datetime as dt

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hiveweek import content, vocabulary
from hiveweek.authoring import areas
from hiveweek.climate.normals import read_about
from hiveweek.climate.profiles import read_profile
from hiveweek.plan import ranking
from hiveweek.problems import InputProblems
from hiveweek.vocabulary import normal

WORDS = vocabulary.load()
VOCABULARY = content.root() / "rulesets" / "vocabulary"
SMALL = {
    "facts/food.yaml": {
        "facts": {
            "food.x": {
                "kind": "number",
                "unit": "kg",
                "low": 0,
                "high": 9,
                "comes_from": "observed",
                "after": "fades",
                "keeps": 5,
                "label": "x",
                "how": "look",
                "voided_by": ["feeding"],
            },
            "food.y": {
                "kind": "one_of",
                "values": ["a", "b"],
                "groups": {"some": ["a"]},
                "comes_from": "computed",
                "observed_by": [["food.x"]],
                "label": "y",
                "how": "look",
            },
            "food.v": {
                "kind": "one_of",
                "values": ["a", "b", "c"],
                "comes_from": "observed",
                "after": "stands",
                "stands": ["b"],
                "ended_by": ["look", "feeding", "food.z", "food.v = a"],
                "keeps": 7,
                "label": "v",
                "how": "look",
            },
            "food.w": {
                "kind": "one_of",
                "values": ["a", "b", "c"],
                "comes_from": "observed",
                "after": "becomes",
                "becomes": [
                    {"value": "a", "after_days": 3, "to": "b"},
                    {"value": "b", "after_days": 4, "then": {"food.v": "c"}},
                ],
                "keeps": 7,
                "label": "w",
                "how": "look",
            },
            "food.z": {
                "kind": "date",
                "comes_from": "observed",
                "after": "fades",
                "keeps": 9,
                "label": "z",
                "how": "look",
                "ahead": True,
            },
        }
    },
    "actions.yaml": {
        "actions": {
            "look": {"label": "look", "opens": "lid", "observes": ["food.x"], "kit": ["veil"], "clashes": ["feed"]},
            "feed": {"label": "feed", "opens": "lid", "minutes": 3, "dead_ok": False},
        }
    },
    "acts.yaml": {
        "acts": {"feeding": {"label": "feeding", "signs": [{"recorded": "food.x"}, {"turns": "food.y", "to": ["b"]}]}}
    },
    "kit.yaml": {"kit": {"veil": "veil"}},
    "sources.yaml": {"W1": {"cite": "a book", "grade": "standard"}},
    "implies.yaml": {"implies": [{"id": "a", "when": "food.x > 0", "then": {"food.y": "b"}, "note": "n"}]},
    "constraints.yaml": {"constraints": [{"id": "a", "holds": {"any": ["food.x > 0"]}, "note": "n"}]},
}
ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-3, 40),
    st.sampled_from(
        [1.5, "", "a", "012", "NO", "food.x", "2026-02-30", [], {}, [None], {"a": None}, [["a"]], {"to": 5}]
    ),
    st.dates(dt.date(2020, 1, 1), dt.date(2030, 1, 1)),
)


def nodes(data, path=()):
    yield path
    inside = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in inside:
        yield from nodes(value, (*path, key))


def changed(data, path, value):
    if not path:
        return value
    data = copy.deepcopy(data)
    inside = data
    for step in path[:-1]:
        inside = inside[step]
    inside[path[-1]] = value
    return data


def assert_told_with_places(read):
    """Read; problems must have a place and one line."""
    problems = []
    try:
        read()
    except InputProblems as error:
        problems = error.problems or ["none"]
    for problem in problems:
        assert problem.code and problem.message and "\n" not in problem.message
        assert not problem.file or (problem.line >= 1 and problem.col >= 1)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_vocabulary_files(tmp_path, data):
    (tmp_path / "facts").mkdir(exist_ok=True)
    name = data.draw(st.sampled_from(sorted(SMALL)))
    path = data.draw(st.sampled_from(list(nodes(SMALL[name]))))
    for file, whole in SMALL.items():
        body = changed(whole, path, data.draw(ODD)) if file == name else whole
        (tmp_path / file).write_text(yaml.safe_dump(body, sort_keys=False), encoding="utf-8")
    assert_told_with_places(lambda: vocabulary.read_vocabulary(tmp_path))


def test_the_small_vocabulary_is_good(tmp_path):
    (tmp_path / "facts").mkdir()
    for file, body in SMALL.items():
        (tmp_path / file).write_text(yaml.safe_dump(body, sort_keys=False), encoding="utf-8")
    assert len(vocabulary.read_vocabulary(tmp_path).facts) == 5


READERS = {
    content.root() / "rulesets" / "ranking.yaml": lambda path: ranking.load(WORDS, path),
    VOCABULARY / "areas.yaml": lambda path: areas.read_areas(path, WORDS, {}),
    VOCABULARY / "effects.yaml": lambda path: normal.load(WORDS, path.parents[1]),
    VOCABULARY / "normal_colony.yaml": lambda path: normal.load(WORDS, path.parents[1]),
    content.root() / "climate_profiles" / "boreal.yaml": read_profile,
    content.root() / "climate_profiles" / "normals" / "boreal.about.yaml": read_about,
}


@pytest.mark.parametrize("path", READERS, ids=lambda path: path.stem)
def test_other_files(tmp_path, path):
    (tmp_path / "vocabulary").mkdir()
    target = tmp_path / "vocabulary" / path.name
    plain = yaml.safe_load(path.read_text(encoding="utf-8"))
    places = list(nodes(plain))

    @settings(max_examples=25, deadline=None)
    @given(st.sampled_from(places), ODD)
    def changes(place, value):
        target.write_text(yaml.safe_dump(changed(plain, place, value), sort_keys=False), encoding="utf-8")
        assert_told_with_places(lambda: READERS[path](target))

    changes()
