"""The looks of a plan a second time, plainly: a part of ``reference_plan``."""

from __future__ import annotations

from types import SimpleNamespace

OPENS = {"nothing": 0, "lid": 1, "frames": 2}


class Looking:
    """What may be looked at, what a look would tell, and what it is worth; the rest of the plan is the class that takes this in."""

    def lookers(self, fact, hive):
        """Looks that tell a fact and may be done this week, least disturbing first."""
        told = [self.words.actions[a] for a in self.weights.looks if fact in self.words.actions[a].observes]
        told.sort(key=lambda a: (OPENS[a.opens], a.minutes, a.id))
        return [a.id for a in told if self.may_look(a.id, hive)]

    def may_look(self, action, hive):
        if action in self.weights.in_season:
            fact, values = self.weights.in_season[action]
            cell = self.meaning.cell(fact, hive)
            if cell is not None and cell[1] not in [self.words.facts[fact].encode(v) for v in values]:
                return False
        verdict = self.verdict(action, hive)
        return not verdict.stops and not verdict.asks and not verdict.unlikely

    def cover(self, facts, hive):
        """The looks that tell all these facts: none opens further than the shyest fact asks; each tells the most it can."""
        can = {fact: self.lookers(fact, hive) for fact in facts}
        if not all(can.values()):
            return None
        actions = self.words.actions
        level = max(OPENS[actions[looks[0]].opens] for looks in can.values())
        left, cover = set(facts), {}
        while left:
            tells = {
                look: {fact for fact in left if look in can[fact]}
                for looks in can.values()
                for look in looks
                if OPENS[actions[look].opens] <= level
            }
            best = min(tells, key=lambda x: (-len(tells[x]), OPENS[actions[x].opens], actions[x].minutes, x))
            cover[best] = sorted(tells[best])
            left -= tells[best]
        return cover

    def looks(self, hive, kept):
        """{look: (facts, unlocks {rule: points not rounded}, points)} before one is folded into another or left out."""
        have = {a.action: a.points for a in kept}
        told = {f for a in kept if a.action in self.weights.looks for f in self.words.actions[a.action].observes}
        bags: dict = {}
        for rule in self.ruleset.rules.values():
            if not rule.advise or rule.advise in have or rule.advise in self.weights.not_looked_for:
                continue
            point, firm = self.truths(rule.when, hive)
            if point is True or (point is False and firm is False):
                continue
            gain, urgency = self.gain(rule, hive)[0], self.urgency(self.deadline(rule, hive))
            if any(points >= gain * urgency and self.clash(rule.advise, other) for other, points in have.items()):
                continue
            if self.verdict(rule.advise, hive).stops:
                continue
            choices = []
            decided = False
            for openings in self.deciding_sets(rule.when, hive, True, "known" if point is None else "fails"):
                wanted = sorted({leaf.left.name for leaf, _ in openings} - told)
                if openings and not wanted:
                    decided = True  # a look that is advised anyway settles it
                    break
                cover = self.cover(wanted, hive)
                if not cover:
                    continue
                if rule.advise in self.weights.looks and set(cover) != {rule.advise}:
                    continue  # nobody looks in order to learn whether to look
                share = self.chance(openings, rule.chance, hive)
                level = max(OPENS[self.words.actions[a].opens] for a in cover)
                choices.append(((level, -round(share, 6), len(cover), sorted(cover)), share, cover))
            if decided or not choices:
                continue
            _, share, cover = min(choices, key=lambda c: c[0])
            for look, facts in cover.items():
                certainty = share / len(cover)
                bags.setdefault(look, []).append(
                    SimpleNamespace(rule=rule.id, gain=gain, urgency=urgency, certainty=certainty, facts=facts)
                )
        return {look: self._worth_of(look, bag, hive) for look, bag in bags.items()}

    def _worth_of(self, look, bag, hive):
        """The best that it could bring, times its chance, less what opening costs."""
        best = max(bag, key=lambda c: (c.gain * c.urgency * c.certainty, c.rule))
        cost = self.opening_cost(self.words.actions[look].opens, hive)
        share = best.urgency * best.certainty
        net = best.gain - cost / share if share else 0.0
        points = round(round(net, 2) * round(best.urgency, 3) * round(best.certainty, 3), 2)
        unlocks = {c.rule: c.gain * c.urgency * c.certainty for c in bag}
        return sorted({f for c in bag for f in c.facts}), unlocks, points

    def opening_cost(self, opens, hive):
        if opens == "nothing":
            return 0.0
        costs, high = self.weights.costs, self.meaning.cell("weather.open_high_c", hive)
        if high is None:
            cost = costs[f"{opens}_in_unknown_weather_pts"].value
        else:
            rows = sorted(costs[opens].curve)
            cost = rows[0][1]
            for floor, points in rows:
                if high[1] >= floor:
                    cost = points
        if opens == "frames" and self.meaning.cell("season.dearth", hive) == (1.0, 1.0, 1.0):
            cost = max(cost, costs.frames_in_dearth_pts)
        queen = self.meaning.cell("colony.queen", hive)
        if opens == "frames" and queen and queen[1] == self.words.facts["colony.queen"].encode("virgin"):
            cost = max(cost, costs.frames_with_new_queen_pts)
        return cost
