"""No text makes the reader stumble: it gives a scenario or problems with places."""

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from hiveweek import facts, vocabulary
from hiveweek.problems import InputProblems
from hiveweek.shapes import marked_yaml

GOOD = """\
scenario: x
climate: boreal
date: 2026-02-10
apiary: {name: a, site: {site.wind: exposed}, overrides: {unwrap: {from: 04-01, to: 04-09, note: n}}}
hives:
  - id: H1
    facts: {food.stores_kg: 4, hive.size: single, colony.queen_event_on: 2026-01-01}
    observed: [{date: 2026-01-12, food.stores_kg: 9}]
    expect: {top: [feed-candy], includes_any: [[lid-check]], treatments: {allowed: [oxalic]}}
expect: {includes: [feed-candy]}
"""
FACTS = sorted(vocabulary.load().facts)
scalars = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(),
    st.text(max_size=8),
    st.sampled_from(["2026-02-10", "none", "feed-candy", "0x1", "1e999", ".nan", "~", "NO", "2026-02-31"]),
)
values = st.recursive(
    scalars,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(
            st.sampled_from(["id", "facts", "observed", "expect", "date", "site", *FACTS[::9]]), inner, max_size=3
        ),
    ),
    max_leaves=8,
)


def check_outcome(text):
    """Read a text; whatever comes, it is a scenario or a list of problems."""
    try:
        scenario = facts.scenario_of(marked_yaml.parse(text, "f"), profile_ids=["boreal"], jurisdictions=[])
    except InputProblems as error:
        problems = error.problems
    else:
        assert scenario.date is not None and scenario.hives
        return scenario
    assert problems
    for problem in problems:
        assert problem.line >= 1 and problem.col >= 1 and problem.code and problem.message
        assert "\n" not in problem.message
    return problems


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=200))
def test_any_text(text):
    check_outcome(text)


@settings(max_examples=250, deadline=None)
@given(
    st.integers(0, len(GOOD)), st.integers(0, 12), st.text(alphabet="abz.:-[]{}&*!|>'\"#%@ \n\t0195~é\x00", max_size=12)
)
@example(at=55, cut=4, piece="\n\n")  # a name over two lines
def test_a_good_file_with_a_piece_changed(at, cut, piece):
    check_outcome(GOOD[:at] + piece + GOOD[at + cut :])


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.dictionaries(
        st.sampled_from(
            ["scenario", "climate", "date", "apiary", "hives", "expect", "source", "rulesets", "jurisdiction", "x"]
        ),
        values,
        max_size=5,
    )
)
def test_any_shape_under_known_keys(changes):
    import yaml

    data = {
        "scenario": "x",
        "climate": "boreal",
        "date": "2026-02-10",
        "hives": [{"id": "a", "facts": {"food.stores_kg": 4}}],
        **changes,
    }
    check_outcome(yaml.safe_dump(data, allow_unicode=True))


@settings(max_examples=250, deadline=None)
@given(st.sampled_from(FACTS), scalars)
def test_any_value_of_any_fact(fact, value):
    import yaml

    data = {"scenario": "x", "climate": "boreal", "date": "2026-02-10", "hives": [{"id": "a", "facts": {fact: value}}]}
    found = check_outcome(yaml.safe_dump(data, allow_unicode=True))
    if not isinstance(found, list) and fact in found.hives[0].facts:
        word = vocabulary.load().facts[fact]
        number = word.encode(found.hives[0].facts[fact])
        if word.low is not None:
            assert word.low <= number <= word.high


def test_the_unchanged_file_is_good():
    assert not isinstance(check_outcome(GOOD), list)
