"""The shipped rules, proven over all inputs and all profiles before the run-time filter."""

import datetime as dt

from hiveweek import climate
from hiveweek.authoring import prove


def test_shipped_rules_prove_clean_for_every_profile(capsys):
    report = prove.prove()
    assert report.profiles == climate.profile_ids()
    assert sum(report.obligations.values()) > 5000
    for kind in ("never", "always", "unsafe", "clash", "masked", "idle-limit", "gap", "overlap"):
        assert report.obligations.get(kind), kind
    with capsys.disabled():
        print(
            f"\n{sum(report.obligations.values())} obligations in {report.seconds:.0f} s, {len(report.findings)} known exceptions"
        )
    assert [f"{finding.key}: {finding.text}" for finding in report.open] == []
    assert report.stale == []


def test_one_profile_alone_has_no_findings():
    # What other climates are for is no finding here; the proof goes to them before it says "never".
    report = prove.prove(["cool_continental"])
    assert [f"{finding.key}: {finding.text}" for finding in report.findings] == []


def test_exceptions_end():
    # Every known exception has a date after which it counts again.
    from hiveweek import content

    exceptions = prove.read_exceptions(content.root() / "rulesets" / "vocabulary" / "proof_exceptions.yaml")
    for key, (reason, until) in exceptions.items():
        assert len(reason) > 20 and isinstance(until, dt.date), key
