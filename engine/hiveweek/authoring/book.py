"""The rulebook: every rule, limit, prohibition and treatment option on one page that people can read, HTML or Markdown."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from hiveweek.authoring import book_words
from hiveweek.authoring.book_cases import cases_by_rule
from hiveweek.authoring.cases import Runner
from hiveweek.authoring.scaffold import templates
from hiveweek.authoring.wording import Wording, plain, quantity
from hiveweek.climate import load_profile
from hiveweek.language.terms import All, NotTrue
from hiveweek.problems import InputProblems
from hiveweek.rules import effective_in
from hiveweek.rules.layering import effective
from hiveweek.rules.model import Rule, RuleSet
from hiveweek.rules.reader import Library, read_library
from hiveweek.texts.parts import MonthDay
from hiveweek.texts.speaker import upper_first
from hiveweek.vocabulary.model import Vocabulary

STATUS = {
    "seen": "read in the source named",
    "seen-2nd": "read where another text cites it",
    "memory": "from memory, not read again",
    "calc": "calculated from figures read",
    "derived": "follows from figures read",
    "judgement": "our judgement between the sources named",
    "practice": "common practice",
}
EVIDENCE = {"trial": "a trial", "survey": "a survey of colonies", "guide": "published guides", "practice": "practice"}
UNKNOWN = {"ask": "withheld until it is known", "check": "given, with this checked first", "pass": "counts as not so"}
TITLES = {"twohive": "Two hives"}
UNIT_AT_END = re.compile(r"_(c|pct|kg|kmh)$")
PLAIN_SOURCES = {"common-practice": "common practice", "judgement": "judgement"}


class Book:
    """Gathers what the page shows.

    Parameters
    ----------
    words : Vocabulary
    profile : str, optional
        Effective rules of this climate, with its weeks; without it the base rules and what differs by climate.
    folder : Path, optional
        Another rulesets folder than the shipped one.
    extra : iterable of Path
        Overlays that take part.
    """

    def __init__(
        self,
        words: Vocabulary,
        profile: str | None = None,
        folder: Path | None = None,
        extra: Iterable[Path | str] = (),
    ):
        self.words, self.profile, self.folder, self.extra = words, profile, folder, [Path(p) for p in extra]
        self.library: Library = read_library(words, folder, self.extra)
        self.ruleset = self._ruleset()
        self.wording = Wording(words, self.ruleset)
        self.cited: set[str] = set()
        self.cases = cases_by_rule(folder)

    def _ruleset(self) -> RuleSet:
        problems = list(self.library.problems)
        if self.profile is not None:
            found = effective_in(self.library, load_profile(self.profile), None, problems)
        else:
            topics = {name: dataclasses.replace(topic, climates="all") for name, topic in self.library.topics.items()}
            found = effective(dataclasses.replace(self.library, topics=topics, overlays=[]), "", {}, None, problems)
        if problems:
            raise InputProblems(problems)
        return found

    def data(self) -> dict:
        """Return everything the templates show, as plain values."""
        found: dict[str, Any] = {
            "profile": self.profile,
            "files": self.ruleset.versions,
            "topics": [self._topic(name) for name in self._topics()],
            "prohibitions": [self._prohibition(p) for p in self.ruleset.prohibitions.values()],
            "safety_limits": [*self._limits("safety"), *self._limits("troubles")],
            "options": [self._option(o) for o in self.ruleset.options.values()],
            "option_limits": self._limits("treatments"),
            "overlays": self._overlays(),
            "jurisdictions": [self._jurisdiction(d.data) for _, d in sorted(self.library.jurisdictions.items())],
            "disabled": self.ruleset.disabled,
            "anchors": self._anchors(),
            "weeks": self._weeks(),
            "status": STATUS,
        }
        found["sources_list"] = [
            dataclasses.asdict(self.words.sources[key])
            for key in sorted(self.cited, key=_number)
            if key in self.words.sources
        ]
        found["count"] = {
            "rules": len(self.ruleset.rules),
            "advising": len(self.ruleset.advising()),
            "limits": len(self.ruleset.limits),
            "prohibitions": len(self.ruleset.prohibitions),
            "options": len(self.ruleset.options),
        }
        return found

    # --- parts
    def _anchors(self) -> dict[str, str]:
        """The first rule that gives each finding, for links."""
        found: dict[str, str] = {}
        for rule in self.ruleset.rules.values():
            if rule.finding:
                found.setdefault(rule.finding, rule.id.replace(".", "-"))
        return found

    def _topics(self) -> list[str]:
        return sorted({rule.topic for rule in self.ruleset.rules.values()})

    def _topic(self, name: str) -> dict:
        rows = [rule for rule in self.ruleset.rules.values() if rule.topic == name]
        topic = self.library.topics.get(name)
        return {
            "name": name,
            "title": TITLES.get(name) or upper_first(plain(name)),
            "about": book_words.about(topic.document.name) if topic else "",
            "climates": self._climates(topic),
            "limits": self._limits(name),
            "findings": [self._rule(rule) for rule in rows if rule.finding],
            "rules": [self._rule(rule) for rule in rows if rule.advise],
        }

    def _climates(self, topic) -> str:
        if topic is None or topic.climates in ("all", None):
            return ""
        if isinstance(topic.climates, list):
            return "only in " + ", ".join(plain(name) for name in topic.climates)
        return "only where " + " and ".join(topic.climates["where"])

    def _limits(self, topic: str) -> list[dict]:
        found = []
        for name, limit in self.ruleset.limits.items():
            if name.startswith(f"limit.{topic}."):
                base = self.library.limits.get(name)
                found.append(
                    {
                        "id": name,
                        "name": plain(UNIT_AT_END.sub("", name.rpartition(".")[2])),
                        "value": quantity(limit.value, limit.unit),
                        "note": limit.note,
                        "band": f"{limit.band[0]:g} to {limit.band[1]:g}" if limit.band else "",
                        "tighter": limit.tighter or "",
                        "status": limit.status or "practice",
                        "source": self._sources(limit.source),
                        "from": limit.origin,
                        "was": quantity(base.value, base.unit)
                        if base is not None and base.value != limit.value
                        else "",
                    }
                )
        return found

    def _rule(self, rule: Rule) -> dict:
        parts = rule.when.parts if isinstance(rule.when, All) else (rule.when,)
        blocks = [self.wording.tree(part.part) for part in parts if isinstance(part, NotTrue)]
        holds = [self.wording.tree(part) for part in parts if not isinstance(part, NotTrue)]
        action = self.words.actions.get(rule.advise) if rule.advise else None
        return {
            "id": rule.id,
            "anchor": rule.id.replace(".", "-"),
            "finding": rule.finding,
            "action": rule.advise,
            "title": upper_first(action.label if action else (rule.finding or "").replace("-", " ")),
            "when": holds,
            "unless": blocks,
            "because": self.wording.template(rule.because),
            "safety": self.wording.template(rule.safety or (action.safety if action else "")),
            "amount": self.wording.template(rule.amount) if rule.amount else "",
            "by": self._deadline(rule),
            "worth": book_words.worth(rule),
            "evidence": EVIDENCE.get(rule.evidence, rule.evidence),
            "source": self._sources(rule.source),
            "from": rule.layer,
            "place": str(rule.place),
            "reach": rule.reach,
            "roles": self._roles(rule),
            "edits": [dict(edit) for edit in rule.edits],
            "cases": self.cases.get(rule.id, []),
        }

    def _roles(self, rule: Rule) -> str:
        if not rule.roles:
            return ""
        best = (
            f"; the best partner has the {'most' if rule.prefer[1] == 'desc' else 'least'} {self.wording.ref(rule.prefer[0]).partition(': ')[2]}"
            if rule.prefer
            else ""
        )
        return f"concerns two hives of the yard, {plain(rule.roles[0])} and {plain(rule.roles[1])}; said at the {plain(rule.at or '')} one{best}"

    def _deadline(self, rule: Rule) -> str:
        by = rule.by
        if by is None:
            return ""
        if by.base == "today":
            return "today" if by.days == 0 else f"within {by.days} days"
        base = plain(by.name) if by.base == "event" else self.words.facts[by.name].label
        return base if by.days == 0 else f"{abs(by.days)} days {'before' if by.days < 0 else 'after'}: {base}"

    def _prohibition(self, body) -> dict:
        when = self.wording.tree(body.when)
        return {
            "id": body.id,
            "never": [self._target(target) for target in body.never],
            "except": [self._label(a) for a in body.excepted],
            "when": [when],
            "effect": self._effect(body),
            "unknown": UNKNOWN.get(body.if_unknown, body.if_unknown),
            "because": self.wording.template(body.because),
            "instead": [self._label(a) for a in body.instead],
            "source": self._sources(body.source),
            "place": str(body.place),
        }

    def _effect(self, body) -> str:
        if body.effect == "first":
            return "only after: " + " or ".join(self._label(a) for a in body.first)
        return {"stop": "not this week", "day": "not on such a day or at such an hour"}.get(body.effect, body.effect)

    def _target(self, target) -> str:
        if target.kind == "action":
            return self._label(target.name)
        if target.kind == "option":
            return f"{self._label(target.name)} with {plain(target.option)}"
        if target.kind == "opens":
            return (
                "anything that opens the hive"
                if target.name == "any"
                else f"anything that opens it to the {target.name}"
            )
        return f"anything that {target.kind} {plain(target.name)}"

    def _label(self, action: str) -> str:
        return self.words.actions[action].label if action in self.words.actions else action

    def _option(self, option) -> dict:
        return {
            "id": option.id,
            "active": plain(option.active),
            "form": plain(option.form),
            "because": self.wording.template(option.because),
            "length": option.length,
            "withdrawal": option.withdrawal,
            "safety": option.safety,
            "source": self._sources(option.source),
            "bars": [
                {
                    "when": [self.wording.tree(when)],
                    "because": self.wording.template(because),
                    "source": self._sources(source),
                }
                for when, because, source in option.bars
            ],
        }

    def _overlays(self) -> list[dict]:
        """What every overlay changes, as it says itself."""
        found = []
        for overlay in sorted(self.library.overlays, key=lambda o: o.name):
            if overlay.layer == "jurisdiction" or (
                self.profile is not None and overlay.wanted and self.profile not in overlay.wanted
            ):
                continue
            data = overlay.document.data
            rows = []
            for entry in data.get("override") or []:
                what = entry.get("number") or entry.get("limit") or f"{entry.get('rule')}, {entry.get('field')}"
                limit = self.library.limits.get(what) or self.library.numbers.get(what)
                now, was = (
                    quantity(float(entry[k]), limit.unit) if limit and not limit.curve else _short(entry.get(k))
                    for k in ("value", "was")
                )
                rows.append(
                    {
                        "what": what,
                        "now": now,
                        "was": was,
                        "reason": entry.get("reason", ""),
                        "status": entry.get("status", ""),
                        "source": self._sources(_listed(entry.get("source"))),
                    }
                )
            rows += [
                {
                    "what": entry["rule"],
                    "now": "switched off",
                    "was": "",
                    "reason": entry.get("reason", ""),
                    "status": "",
                    "source": self._sources(_listed(entry.get("source"))),
                }
                for entry in data.get("disable") or []
            ]
            added = list(overlay.rules)
            found.append(
                {
                    "name": overlay.name,
                    "title": upper_first(plain(overlay.name)),
                    "layer": overlay.layer,
                    "rows": rows,
                    "added": added,
                    "reason": (data.get("add") or {}).get("reason", ""),
                }
            )
        return found

    def _jurisdiction(self, data: dict) -> dict:
        lists = []
        for key in ("notifiable", "movement", "records", "registered_actives", "duties"):
            rows = [
                {
                    "text": plain(item.get("what") or item.get("active") or ""),
                    "note": item.get("note", ""),
                    "status": item.get("status", ""),
                    "source": self._sources(_listed(item.get("source"))),
                }
                for item in data.get(key) or []
                if isinstance(item, dict)
            ]
            if rows:
                lists.append({"title": upper_first(plain(key)), "rows": rows})
        return {
            "id": data.get("jurisdiction"),
            "name": data.get("name", ""),
            "place": data.get("place", ""),
            "checked": str(data.get("checked", "")),
            "note": data.get("note", ""),
            "tell": data.get("tell", ""),
            "registered_note": data.get("registered_note", ""),
            "lists": lists,
        }

    def _sources(self, keys: Iterable[str]) -> list[dict]:
        found = []
        for key in keys:
            known = key in self.words.sources
            if known:
                self.cited.add(key)
            found.append(
                {
                    "key": key if known else "",
                    "cite": self.words.sources[key].cite if known else PLAIN_SOURCES.get(key, key),
                }
            )
        return found

    def _weeks(self) -> list[dict]:
        if self.profile is None:
            return []
        from hiveweek.authoring import year

        found = year.walk(self.profile, Runner(self.words, self.folder, self.extra))
        return [
            {
                "number": number,
                "date": str(MonthDay(week.date.month, week.date.day, wide=False)),
                "phase": plain(week.phase),
                "nothing": week.nothing_due,
                "advice": [
                    {
                        "label": upper_first(self._label(s.action)),
                        "rule": s.rule,
                        "anchor": s.rule.replace(".", "-") if s.rule in self.ruleset.rules else "",
                        "points": "law and people" if s.band == 0 else f"{s.points:g}",
                        "amount": s.amount or "",
                    }
                    for s in week.advice
                ],
            }
            for number, week in enumerate(found.weeks, 1)
        ]


def _short(value) -> str:
    text = str(value)
    return text if len(text) < 120 else text[:117] + "..."


def _listed(value) -> list[str]:
    return [value] if isinstance(value, str) else [item for item in value or [] if isinstance(item, str)]


def _number(key: str) -> tuple:
    return key[:1], int("".join(c for c in key if c.isdigit()) or 0), key


def as_html(book: Book) -> str:
    """Return the rulebook as one HTML page that needs nothing else."""
    import markupsafe

    environment = templates().overlay(autoescape=True)
    environment.filters["breaks"] = lambda text: markupsafe.Markup(
        re.sub(r"([._/])", r"\1<wbr>", str(markupsafe.escape(text)))
    )
    return environment.get_template("book.html.j2").render(book.data())


def as_markdown(book: Book) -> str:
    """Return the rulebook as Markdown."""
    environment = templates().overlay()
    environment.filters["cell"] = lambda text: str(text).replace("|", "\\|").replace("\n", " ")
    text = environment.get_template("book.md.j2").render(book.data())
    return re.sub(r"\n{3,}", "\n\n", text)
