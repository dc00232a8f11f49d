"""The second channel in a process of its own, and the comparison of the two.

Isolation: a forked child that shares what the parent has loaded, a pipe for the answer, and a deadline. A crash, a hang
or an error of the C library then costs the comparison, never the answer. What it costs is measured by
``tests/benchmarks/week_bench.py`` (fork and pipe against running in the same process); where a system cannot fork, the
child is spawned, which is slower and as sound. The child ends with this process, however this one ends (``orphan``).
"""

from __future__ import annotations

import multiprocessing
import threading
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.context import ForkContext, SpawnContext

from hiveweek.facts.table import FactTable
from hiveweek.inference import rete
from hiveweek.inference.columnar import Inference
from hiveweek.inference.network import compile_network
from hiveweek.inference.orphan import end_with_parent
from hiveweek.language.truth import Outcome
from hiveweek.rules.model import RuleSet
from hiveweek.vocabulary.model import Vocabulary

DEADLINE_S = 30.0  # counted from the moment the columnar answer waits for it
MOST_HIVES = 400  # above this the columnar channel answers alone and says so


@dataclass(frozen=True)
class Difference:
    """One place where the channels disagree."""

    what: str
    name: str
    hive: str

    def __str__(self) -> str:
        return f"channels differ: {self.what} {self.name} at hive {self.hive}"


@dataclass
class ChannelResult:
    """What the second channel said, or why it did not.

    Attributes
    ----------
    state : str
        ``agrees``, ``differs``, ``absent`` (this Python cannot load it), ``not run`` (too many hives), or ``failed`` (not
        started, crashed, hung, killed, or stopped by an error).
    differences : list of Difference
    note : str
        One line for people: why it gave no answer, or what it does not carry.
    """

    state: str
    differences: list[Difference]
    note: str = ""


class Started:
    """A second channel at work in its own process; ``give`` it a table, ``finish`` gives its word.

    Parameters
    ----------
    ruleset : RuleSet
        Its rules are handed to the library at once, while the facts are still being worked out here.
    vocabulary : Vocabulary
        That of the table.
    hives : int
        How many the largest table will have.
    deadline : float, optional
        Seconds to wait for an answer, from the moment it is asked for.
    lasting : bool
        Whether it is given several tables, one after the other, each heard before the next; it ends by ``stop``, or without an
        answer. Otherwise it ends with its one answer.
    """

    def __init__(
        self,
        ruleset: RuleSet,
        vocabulary: Vocabulary,
        hives: int,
        deadline: float | None = None,
        lasting: bool = False,
    ):
        self.deadline = DEADLINE_S if deadline is None else deadline
        self.lasting = lasting
        self.too_many = False
        self.note = ""
        self.failed = False
        self.process = None
        if not rete.available():
            self.note = "the second channel needs Python below 3.13 and the durable-rules library"
            return
        if self._passes(hives):
            return
        context: ForkContext | SpawnContext
        if "fork" in multiprocessing.get_all_start_methods():
            context = multiprocessing.get_context("fork")
        else:
            context = multiprocessing.get_context("spawn")
        try:
            self.pipe, far = context.Pipe()
            process = context.Process(target=_child, args=(far, ruleset, vocabulary, lasting), daemon=True)
            process.start()
            far.close()
        except OSError as error:
            self.failed = True
            self.note = f"the second channel could not be started: {error.strerror or error}"
        else:
            self.process = process

    @classmethod
    def on(cls, ruleset: RuleSet, table: FactTable, deadline: float | None = None) -> Started:
        """Start with a table at hand."""
        started = cls(ruleset, table.vocabulary, len(table), deadline)
        started.give(table)
        return started

    @property
    def ended(self) -> bool:
        """Whether a process was started and is no longer there."""
        return self.process is not None and self.pipe.closed

    def _passes(self, hives: int) -> bool:
        """Whether it passes over a table because of its size; the note says so."""
        self.too_many = hives > MOST_HIVES
        if self.too_many:
            self.note = f"the second channel carries up to {MOST_HIVES} hives"
        return self.too_many

    def give(self, table: FactTable) -> None:
        """Hand over the facts; where the process has gone, ``finish`` will tell."""
        if self.process is None or self.ended or self._passes(len(table)):
            return
        sent = (table.hives, {name: (c.value, c.low, c.high) for name, c in table.columns.items()})
        # A process that hangs takes nothing out of the pipe, and a full pipe must not hold up the answer.
        threading.Thread(target=self._send, args=(sent,), daemon=True).start()

    def _send(self, sent: tuple) -> None:
        with suppress(OSError, ValueError):  # the process has gone, or nobody waits for it any more
            self.pipe.send(sent)

    def raw(self) -> dict | None:
        """Wait for the child's answer to the last table; None when it failed (``note`` says how), and then it has ended."""
        if self.process is None or self.ended:
            return None
        answer = None
        self.note = ""
        try:
            if self.pipe.poll(self.deadline):
                answer = self.pipe.recv()
            else:
                self.note = f"the second channel gave no answer within {self.deadline:g} s"
        except (EOFError, OSError):
            self.note = "the second channel's process ended without an answer"
        if isinstance(answer, str):
            self.note = f"the second channel stopped: {answer}"
            answer = None
        if answer is None or not self.lasting:
            self.stop()
        return answer

    def stop(self) -> None:
        """End the process where it still runs; nothing happens where there is none."""
        if self.process is None or self.pipe.closed:
            return
        if not self.lasting:
            self.process.join(0.05)
        if self.process.is_alive():
            self.process.kill()
            self.process.join(1.0)
        self.pipe.close()

    def finish(self, inference: Inference) -> ChannelResult:
        """Compare its word with the columnar answer."""
        if self.process is None or self.too_many:
            state = "failed" if self.failed else "not run" if rete.available() else "absent"
            return ChannelResult(state, [], self.note)
        answer = self.raw()
        if answer is None:
            return ChannelResult("failed", [], self.note)
        differences = compare(inference, answer)
        left_out = sorted(name.partition(":")[2] for name in answer["cannot"])
        note = f"the second channel does not carry {', '.join(left_out)}" if left_out else ""
        return ChannelResult("differs" if differences else "agrees", differences, note)


def _child(pipe: Connection, ruleset: RuleSet, vocabulary: Vocabulary, lasting: bool) -> None:
    end_with_parent()
    try:
        prepared = rete.Prepared(compile_network(ruleset))
        while True:
            hives, columns = pipe.recv()
            table = FactTable(vocabulary, hives)
            for name, (value, low, high) in columns.items():
                table.set(name, value, low, high)
            pipe.send(prepared.run(table))
            if not lasting:
                break
    except EOFError:
        pass  # nobody asks any more
    except BaseException as error:  # whatever it is, the parent must hear of it
        with suppress(OSError):  # unless it has gone
            pipe.send(f"{type(error).__name__}: {error}"[:500])
    finally:
        pipe.close()


def compare(inference: Inference, answer: dict) -> list[Difference]:
    """Return every place where the two channels differ, on values or on intervals."""
    names = inference.table.hives
    differences: list[Difference] = []

    def look(what: str, key: str, name: str, outcome: Outcome) -> None:
        if key not in answer["point"]:
            return
        for hive in range(len(names)):
            if answer["point"][key][hive] != outcome.point[hive] or answer["firm"][key][hive] != outcome.firm[hive]:
                differences.append(Difference(what, name, names[hive]))

    for rule_id, outcome in inference.rules.items():
        if inference.ruleset.rules[rule_id].roles:
            said = answer["pairs"].get(rule_id)
            if said is None:
                continue
            mine = inference.pairs[rule_id]
            for at, _ in sorted((said["point"] ^ mine["point"]) | (said["firm"] ^ mine["firm"])):
                differences.append(Difference("rule", rule_id, names[at]))
        else:
            look("rule", f"rule:{rule_id}", rule_id, outcome)
    for name, outcome in inference.findings.items():
        look("finding", f"finding:{name}", name, outcome)
    for name, outcome in inference.prohibitions.items():
        look("prohibition", f"prohibition:{name}", name, outcome)
    for option, outcomes in inference.options.items():
        for index, outcome in enumerate(outcomes):
            look("option", f"bar:{option}:{index}", option, outcome)
    return list(dict.fromkeys(differences))
