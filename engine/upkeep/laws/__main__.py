"""Counts what breaks the laws of advice: ``python -m upkeep.laws [--law A,B] [--hives N] [--seed S]``."""

from __future__ import annotations

import argparse
import gc
import sys
import time

from hiveweek.cli.main import SELDOM
from upkeep.hunts import AT_ONCE
from upkeep.laws.run import report, run


def main(words: list[str] | None = None) -> int:
    """Run from the command line: 0 where no law is broken more often than was reached before, else 1."""
    parser = argparse.ArgumentParser(prog="python -m upkeep.laws", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--law", default=AT_ONCE, help="letters, with commas")
    parser.add_argument("--hives", type=int, default=2000, help="how many")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--witnesses", type=int, default=0, help="print so many witnesses a law, the commonest kinds first"
    )
    args = parser.parse_args(words)
    gc.set_threshold(SELDOM)
    begun = time.monotonic()
    tally = run(args.law.upper().split(","), args.hives, args.seed)
    print(report(tally, args.witnesses))
    print(f"{tally.hives} hives, {time.monotonic() - begun:.0f} s")
    return 1 if tally.over() else 0


if __name__ == "__main__":
    sys.exit(main())
