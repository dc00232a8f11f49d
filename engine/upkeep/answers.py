"""Answers kept for comparison: ``python -m upkeep.answers write OUT PATH...``, later ``... compare OLD NEW``.

Whoever moves walls writes the answers of many scenarios before and after, and reads what differs. Each scenario (or case)
gives one file: the whole JSON with all facts, then the screen, metric and imperial.
"""

from __future__ import annotations

import argparse
import difflib
import io
import json
import sys
from pathlib import Path

from hiveweek import vocabulary
from hiveweek.authoring import cases
from hiveweek.problems import InputProblems
from hiveweek.show import json as as_json
from hiveweek.show import week as as_text
from hiveweek.show.text import Page
from hiveweek.texts.speaker import IMPERIAL, METRIC


def write(out: Path, paths: list[Path]) -> int:
    """Answer every scenario under some paths; return how many."""
    out.mkdir(parents=True, exist_ok=True)
    words = vocabulary.load()
    runner = cases.Runner(words)
    done = 0
    for path in cases.find(paths):
        try:
            scenarios = cases.read([path], words)
        except InputProblems as error:
            (out / f"{path.stem}.txt").write_text("\n".join(str(p) for p in error.problems), encoding="utf-8")
            continue
        for number, scenario in enumerate(scenarios):
            name = path.stem if len(scenarios) == 1 else f"{path.stem}-{number:04d}"
            try:
                plan = runner.answer(scenario).plan
            except InputProblems as error:
                (out / f"{name}.txt").write_text("\n".join(str(p) for p in error.problems), encoding="utf-8")
                continue
            data = as_json.week(plan, with_facts=True)
            data["rulesets"] = [{k: v for k, v in row.items() if k != "hash"} for row in data["rulesets"]]
            parts = [json.dumps(data, indent=1, ensure_ascii=False)]
            for speaker in (METRIC, IMPERIAL):
                text = io.StringIO()
                as_text.show_cards(Page(text, speaker), plan, words)
                parts.append(text.getvalue())
            (out / f"{name}.txt").write_text("\n\f\n".join(parts), encoding="utf-8")
            done += 1
    return done


def compare(old: Path, new: Path, most: int = 40) -> int:
    """Print what differs between two folders of answers; return how many files do."""
    names = sorted({p.name for p in old.glob("*.txt")} | {p.name for p in new.glob("*.txt")})
    differing = 0
    for name in names:
        a, b = (
            (folder / name).read_text(encoding="utf-8").splitlines() if (folder / name).exists() else []
            for folder in (old, new)
        )
        if a != b:
            differing += 1
            if differing <= most:
                print("\n".join(list(difflib.unified_diff(a, b, f"old/{name}", f"new/{name}", lineterm="", n=1))[:60]))
    print(f"{differing} of {len(names)} answers differ")
    return differing


def main() -> int:
    """Run from the command line; 1 where answers differ."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("write", "compare"))
    parser.add_argument("folders", nargs="+", type=Path)
    args = parser.parse_args()
    if args.what == "compare":
        return 1 if compare(*args.folders[:2]) else 0
    print(f"{write(args.folders[0], args.folders[1:])} answers written")
    return 0


if __name__ == "__main__":
    sys.exit(main())
