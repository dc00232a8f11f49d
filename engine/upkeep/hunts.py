"""The long hunts, one after another: ``python -m upkeep.hunts``. What takes minutes and is not part of the tests.

The tests that take long; the proofs of the shipped rules in every climate; the pages whose commands are run; random rulesets through both inference
channels; the laws of advice over random hives; writers of the record killed at random moments; the manual built with every
warning an error. Each runs in a process of its own; the exit code is 1 where any found something.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

AT_ONCE = "A,B,C,F,G,H,I,K,L,M,N"  # the laws that one day's answer shows


def plans(folder: Path, seed: int) -> list[tuple[str, list[str]]]:
    """Return the hunts: what each is, and its command."""
    return [
        ("the manual, strictly", ["upkeep.manual", str(folder / "manual")]),
        ("the tests that take long", ["pytest", "-n", "2", "-m", "long"]),
        ("the proofs of the rules, every climate", ["hiveweek.cli.main", "rules", "prove"]),
        ("the worked overlay", ["upkeep.pages", "docs/worked-overlay.md"]),
        ("random rulesets through both channels", ["upkeep.hunt", "--rulesets", "6000", "--seed", str(seed)]),
        ("the laws of advice", ["upkeep.laws", "--hives", "400", "--seed", str(seed), "--law", AT_ONCE]),
        ("the laws along days", ["upkeep.laws", "--hives", "48", "--seed", str(seed), "--law", "D,E,J"]),
        ("writers killed", ["upkeep.record_hunt", "--kills", "200", "--seed", str(seed)]),
    ]


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    failed = []
    with tempfile.TemporaryDirectory() as folder:
        for what, command in plans(Path(folder), args.seed):
            begun = time.monotonic()
            print(f"== {what}", flush=True)
            done = subprocess.run([sys.executable, "-m", *command], check=False)
            print(
                f"== {what}: {'found something' if done.returncode else 'nothing found'}, {time.monotonic() - begun:.0f} s",
                flush=True,
            )
            if done.returncode:
                failed.append(what)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
