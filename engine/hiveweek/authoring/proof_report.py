"""What a run of the proofs found: findings, what was put to the solver, and which exceptions are known."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

KINDS = {
    "never": "can never fire",
    "always": "always fires",
    "unsafe": "fires where safety.yaml forbids its advice",
    "clash": "advises what clashes with",
    "masked": "never says more than",
    "idle-limit": "has no effect",
    "gap": "leaves a gap",
    "overlap": "decides twice",
    "weaker": "is answered less with one more sign of it",
    "milder": "is answered less as it gets worse",
    "open": "not analysed",
}


@dataclass
class Finding:
    """Something proven (or left open).

    Attributes
    ----------
    key : str
        Stable name, such as ``clash:food.a:food.b``; exceptions name it.
    profiles : list of str
        Profiles whose rules allow it (those the obligation was put for).
    witness : dict or None
        A concrete input (see ``Logic.witness``).
    reproduced : bool or None
        Whether the witness, put through the weekly answer, shows it; None where there is nothing to run.
    excused : str
        Reason of a known exception; empty where there is none.
    entry : str
        The entry of an overlay that brings it, with its place where the finding stands in another file; empty where the base was
        proven.
    """

    kind: str
    key: str
    text: str
    profiles: list[str]
    place: str = ""
    witness: dict | None = None
    reproduced: bool | None = None
    excused: str = ""
    entry: str = ""


@dataclass
class Report:
    """What a run of the proofs found."""

    findings: list[Finding] = field(default_factory=list)
    obligations: dict[str, int] = field(default_factory=dict)
    seconds: float = 0.0
    profiles: list[str] = field(default_factory=list)
    stale: list[str] = field(default_factory=list)
    of_base: int = 0  # findings of the base, left out where only an overlay's are wanted

    @property
    def open(self) -> list[Finding]:
        """Findings without an exception."""
        return [finding for finding in self.findings if not finding.excused]

    def excuse(self, exceptions: dict[str, tuple[str, dt.date]], today: dt.date, whole: bool = True) -> None:
        """Mark the findings that are known exceptions, and note the exceptions that no finding meets.

        Parameters
        ----------
        whole : bool
            Whether every climate was asked: where only some were, an exception may be for another.
        """
        met = set()
        for finding in self.findings:
            excuse = exceptions.get(finding.key)
            if excuse:
                met.add(finding.key)
                finding.excused = excuse[0] if excuse[1] >= today else ""
                if not finding.excused:
                    finding.text += f" (its exception ran out on {excuse[1]})"
        self.stale = sorted(set(exceptions) - met) if whole else []
