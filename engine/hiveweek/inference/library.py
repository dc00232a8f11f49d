"""One ruleset of the durable-rules library, driven without the library's host.

The host runs two timer threads that may take a firing away from the caller, hands every firing to a Python function whose
errors it keeps to itself, and writes its state out and in again around each. None of that is wanted here: a fact goes in,
the names of the rules that fire come out, and an error is an error. Both are asked of the library's own C module.
"""

from __future__ import annotations

import json

UNMATCHED, OBSERVED = 1, 2
CATCH_ALL = '{"any":'  # begins what is told of the rule that accepts any fact


class ChannelError(Exception):
    """The library reported an error, or this Python cannot load it."""


class Rulebase:
    """Rules registered once under a name; facts go in one at a time.

    Parameters
    ----------
    name : str
        Said in errors.
    rules : dict of str to list
        Each rule's patterns, all of which must match.
    """

    def __init__(self, name: str, rules: dict[str, list]):
        import durable_rules_engine

        self.library, self.name = durable_rules_engine, name
        # A rule that accepts any fact: one that no rule accepts would not be stored.
        definition = {"any": {"all": [{"m": {"$ex": {"h": 1}}}]}}
        definition |= {rule: {"all": patterns} for rule, patterns in rules.items()}
        self.handle = self._try(self.library.create_ruleset, name, json.dumps(definition))

    def _try(self, function, *args):
        try:
            return function(*args)
        except Exception as error:
            raise ChannelError(f"{self.name}: {error}") from error

    def put(self, fact: str) -> list[str]:
        """Assert a fact (`text_of`); return what fires as JSON texts ``{"rule": {alias: fact}}``, the catch-all rule left out.

        Raises
        ------
        ChannelError
            When the library does not take the fact.
        """
        code, state = self._try(self.library.assert_fact, self.handle, fact)
        if code in (UNMATCHED, OBSERVED):
            raise ChannelError(
                f"{self.name}: a fact was {'not matched' if code == UNMATCHED else 'seen before'}: {fact}"
            )
        return self._firings(state)

    def take(self, fact: str) -> None:
        """Retract a fact that was put."""
        _, state = self._try(self.library.retract_fact, self.handle, fact)
        if self._firings(state):
            raise ChannelError(f"{self.name}: a rule fired on a fact that was taken back")

    def _firings(self, state: object) -> list[str]:
        """Return what fires; errors are looked for once around all of it, for there are many firings."""
        return self._try(self._fired, self.handle, state)

    def _fired(self, handle: object, state: object) -> list[str]:
        found: list[str] = []
        onward = self.library.complete_and_start_action
        first = self.library.start_action_for_state(handle, state)
        firing = first[1] if first else None
        while firing:
            if not firing.startswith(CATCH_ALL):
                found.append(firing)
            firing = onward(handle, state)
        return found


def text_of(fact: dict[str, float | str]) -> str:
    """Return a fact as the library takes it."""
    return json.dumps(fact)


def rule_of(firing: str) -> str:
    """Return the rule's name of a firing."""
    return firing[2 : firing.index('"', 2)]
