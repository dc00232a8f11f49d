"""Which cases try which rule, for the page of the rule."""

from __future__ import annotations

from pathlib import Path

from hiveweek import content
from hiveweek.rules.reader import case_files
from hiveweek.shapes import marked_yaml


def cases_by_rule(folder: Path | None = None) -> dict[str, list[dict]]:
    """Return the cases that try each rule: title, place and what is expected of it."""
    words = {"fires": "fires", "not_fires": "does not fire", "undecided": "is undecided"}
    found: dict[str, list[dict]] = {}
    for path in case_files(folder):
        document = marked_yaml.read(path, content.shown(path))
        rows = document.data.get("cases") if isinstance(document.data, dict) else None
        for index, case in enumerate(rows if isinstance(rows, list) else ()):
            if not isinstance(case, dict):
                continue
            expected: dict[str, list[str]] = {}
            if isinstance(case.get("rule"), str):
                expected[case["rule"]] = []
            for hive in [case, *(h for h in case.get("hives") or () if isinstance(h, dict))]:
                expect = hive.get("expect")
                if not isinstance(expect, dict):
                    continue
                for key, said in words.items():
                    for rule in expect.get(key) or ():
                        expected.setdefault(rule, []).append(said)
            line, _ = document.place(("cases", index))
            for rule, kinds in expected.items():
                found.setdefault(rule, []).append(
                    {
                        "title": str(case.get("scenario", "")),
                        "place": f"{document.name}:{line}",
                        "says": ", ".join(dict.fromkeys(kinds)),
                    }
                )
    return found
