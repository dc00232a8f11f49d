"""Apiaries and hives of a record: added, changed, moved, ended."""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
from collections.abc import Iterator

from hiveweek.record.record import Apiary, Hive, Placement, folded
from hiveweek.record.store import codec
from hiveweek.record.store.faults import problem, writable
from hiveweek.record.store.reading import Reading


class Placing(Reading):
    """Writes what stands where."""

    @contextlib.contextmanager
    def _changing(self, apiary: str, revision: int | None = None) -> Iterator[int]:
        """Hold an apiary for a change; give the new revision, which stands when the change does."""
        with self.writing():
            rows = self.backend.rows("lock_apiary", id=apiary)
            if not rows:
                raise problem("unknown-apiary", "that apiary is not in the record")
            now = int(rows[0]["revision"])
            if revision is not None and revision != now:
                raise problem(
                    "changed-meanwhile", "somebody else has changed this apiary meanwhile; look again, then repeat it"
                )
            yield now + 1
            self.backend.run("set_revision", [{"key": apiary, "revision": now + 1}])

    def add_apiary(self, apiary: Apiary) -> None:
        """Add an apiary; its name must be new."""
        writable((apiary.name, apiary.note))
        with self.writing():
            for other in self.apiaries():
                if folded(other.name) == folded(apiary.name):
                    raise problem("name-taken", f"there is an apiary '{other.name}' already")
            self.backend.run("add_apiary", [codec.apiary_row(apiary, 0)])

    def change_apiary(self, apiary: Apiary, revision: int | None = None) -> None:
        """Change what an apiary is called, where it lies, its climate, law or rules.

        Parameters
        ----------
        revision : int, optional
            The revision that the change was made on; another one now is refused.
        """
        writable((apiary.name, apiary.note))
        with self._changing(apiary.id, revision) as number:
            for other in self.apiaries():
                if other.id != apiary.id and folded(other.name) == folded(apiary.name):
                    raise problem("name-taken", f"there is an apiary '{other.name}' already")
            row = codec.apiary_row(apiary, number)
            row["key"] = row.pop("id")
            self.backend.run("change_apiary", [row])

    def _free_name(self, apiary: str, name: str, day: dt.date, besides: str = "") -> None:
        for other in self.hives(apiary):
            alive = other.ended is None and other.placements[-1].apiary == apiary
            if other.id != besides and alive and folded(other.name) == folded(name):
                raise problem("name-taken", f"a hive '{other.name}' stands there already")

    def add_hive(self, hive: Hive) -> None:
        """Add a hive to the apiary of its first placement; its name must be free among the living there."""
        writable((hive.name, hive.ended_because))
        apiary = hive.placements[-1].apiary
        with self._changing(apiary):
            if hive.ended is None:
                self._free_name(apiary, hive.name, hive.placements[-1].since)
            last = self.backend.rows("last_added")
            number = next(iter(dict(last[0]).values())) if last else None
            self.backend.run(
                "add_hive",
                [
                    {
                        "id": hive.id,
                        "name": hive.name,
                        "folded": folded(hive.name),
                        "added": 1 if number is None else int(number) + 1,
                        "ended": hive.ended.isoformat() if hive.ended else None,
                        "ended_because": hive.ended_because,
                    }
                ],
            )
            self.backend.run(
                "add_placement",
                [{"hive": hive.id, "since": p.since.isoformat(), "apiary": p.apiary} for p in hive.placements],
            )

    def rename_hive(self, hive: str, name: str) -> None:
        """Give a hive another name."""
        writable((name,))
        found = self.hive(hive)
        apiary = found.placements[-1].apiary
        with self._changing(apiary):
            self._free_name(apiary, name, found.placements[-1].since, hive)
            self.backend.run("rename_hive", [{"key": hive, "name": name, "folded": folded(name)}])

    def place(self, hive: str, placement: Placement) -> None:
        """Note that a hive stands in another apiary from a day on."""
        found = self.hive(hive)
        if placement.since <= found.placements[-1].since:
            raise problem(
                "wrong-order",
                f"'{found.name}' stands where it is since {found.placements[-1].since}; a move comes later",
            )
        with self._changing(placement.apiary):
            self._free_name(placement.apiary, found.name, placement.since, hive)
            self.backend.run(
                "add_placement", [{"hive": hive, "since": placement.since.isoformat(), "apiary": placement.apiary}]
            )

    def unplace(self, hive: str) -> None:
        """Take back the last move of a hive; its first placement stays."""
        found = self.hive(hive)
        if len(found.placements) < 2:
            raise problem("no-move", f"'{found.name}' stands where it was added; there is no move to take back")
        last, before = found.placements[-1], found.placements[-2]
        with self._changing(last.apiary):
            self._free_name(before.apiary, found.name, before.since, hive)
            self.backend.run("remove_placement", [{"key": hive, "day": last.since.isoformat()}])

    def forget_place(self, apiary: str) -> None:
        """Blank where an apiary lies and what is noted of it, and why its hives ended."""
        with self.writing():
            place = codec.apiary_of(self._apiary(apiary))
            self.change_apiary(dataclasses.replace(place, lat=None, lon=None, elev_m=None, note=""))
            for hive in self.hives(apiary):
                if hive.ended is not None and hive.ended_because:
                    self.end_hive(hive.id, hive.ended)

    def end_hive(self, hive: str, day: dt.date | None, because: str = "") -> None:
        """Note that a hive is no longer kept from a day on; None takes that back."""
        writable((because,))
        found = self.hive(hive)
        apiary = found.placements[-1].apiary
        with self._changing(apiary):
            if day is None:
                self._free_name(apiary, found.name, found.placements[-1].since, hive)
            self.backend.run(
                "end_hive", [{"key": hive, "ended": day.isoformat() if day else None, "ended_because": because}]
            )
