"""Whether what never comes about in the climates at hand does so elsewhere: then it is out of place there, and no mistake.

A rule is for many climates. Asked of one alone, those of other seasons and places never fire, which is as it should be; a
finding is only what never comes about in any climate it is for, and what an author's own overlays have brought about.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from hiveweek.authoring.cases import Runner
from hiveweek.climate import profile_ids

if TYPE_CHECKING:
    from hiveweek.authoring.prove import Prover

SHIPPED = ("base", "profile", "jurisdiction")


class Elsewhere:
    """Judges what never happens in some profiles by the other profiles, and by the rules without an author's overlays.

    Parameters
    ----------
    prover : Prover
        Of the profiles that were asked for.
    """

    def __init__(self, prover: Prover):
        self.prover = prover
        self.runner = prover.runner

    @cached_property
    def others(self) -> Prover | None:
        """The same rules in the profiles that were not asked for; None where all were."""
        left = [name for name in profile_ids() if name not in self.prover.profiles]
        return self._prepared(self.runner, left) if left else None

    @cached_property
    def before(self) -> Prover | None:
        """The rules of the profiles at hand without an author's overlays; None where there are none."""
        if not self.runner.extra:
            return None
        return self._prepared(Runner(self.runner.words, self.runner.folder), list(self.prover.profiles))

    def _prepared(self, runner: Runner, profiles: list[str]) -> Prover:
        found = type(self.prover)(runner, profiles)
        found.prepare()
        return found

    def rule_out_of_place(self, rule_id: str, layer: str) -> bool:
        """Whether a rule that never fires at hand is only out of place here: it fires elsewhere, and no overlay silenced it."""
        return self._out_of_place(layer, lambda prover: prover.fires(rule_id))

    def limit_out_of_place(self, name: str, origin: str) -> bool:
        """Whether a limit that changes nothing at hand does so elsewhere, and no overlay has made it idle."""
        return self._out_of_place(origin, lambda prover: prover.limits.matters(name))

    def _out_of_place(self, layer: str, comes_about) -> bool:
        if layer.partition(" ")[0] not in SHIPPED:
            return False
        if self.before is not None and comes_about(self.before):
            return False
        return self.others is not None and comes_about(self.others)
