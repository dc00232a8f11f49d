"""The shipped rules, proven over all inputs of a climate before the run-time filter."""

import datetime as dt

import pytest

from hiveweek.authoring import prove


@pytest.mark.long
def test_shipped_rules_prove_clean_in_one_climate_alone():
    # What other climates are for is no finding here; the proof goes to them before it says "never". Every climate, in minutes:
    # ``hiveweek rules prove``, which the long hunts run.
    report = prove.prove(["cool_continental"])
    assert report.profiles == ["cool_continental"]
    assert sum(report.obligations.values()) > 1500
    for kind in ("never", "always", "unsafe", "clash", "masked", "idle-limit", "gap", "overlap", "weaker", "milder"):
        assert report.obligations.get(kind), kind
    assert [f"{finding.key}: {finding.text}" for finding in report.open] == []


def test_exceptions_end():
    # Every known exception has a date after which it counts again.
    from hiveweek import content

    exceptions = prove.read_exceptions(content.root() / "rulesets" / "vocabulary" / "proof_exceptions.yaml")
    for key, (reason, until) in exceptions.items():
        assert len(reason) > 20 and isinstance(until, dt.date), key
