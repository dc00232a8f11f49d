"""The colony models a second time: one hive at a time, in plain Python, from what the docstrings and sources say.

Slow and straightforward; it shares no code with the models but the declared numbers. NaN stands for unknown, as there.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise
from types import SimpleNamespace

from hiveweek.numbers import shipped

Z95 = 1.959963984540054  # quantiles of the normal distribution: 97.5 % and 90 %
Z90 = 1.2815515655446004
NAN = math.nan


def row(name):
    """Return the declared number of a name; names are told apart by their last part."""
    (found,) = (row for full, row in shipped().under("model").items() if full.endswith("." + name))
    return found


@lru_cache
def number(name):
    return row(name).value


def band(name):
    """Return (value, low, high) of a declared number."""
    found = row(name)
    return found.value, found.low, found.high


def curve(name, x):
    """Straight lines between the declared corners, the end values beyond them."""
    corners = row(name).curve
    if math.isnan(x):
        return NAN
    if x <= corners[0][0]:
        return corners[0][1]
    for (x0, y0), (x1, y1) in pairwise(corners):
        if x <= x1:
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
    return corners[-1][1]


# --- heat -----------------------------------------------------------------------------------------------------------
def hive_w_per_k(boxes, foam, board, wrap, mesh, vent=0.0, height=1.0, area=1.0):
    """Walls, roof and floor by ISO 6946; a share between 0 and 1 mixes the two conductances."""
    n = number
    inner, outer, under = n("surface_inside_wall"), n("surface_outside"), n("surface_inside_roof")

    def wall(material):
        bare = 1 / (inner + material + outer)
        wrapped = 1 / (inner + material + n("wrap_resistance") + outer)
        return wrapped * wrap + bare * (1 - wrap)

    def roof(material):
        bare = 1 / (under + material + outer)
        more = n("roof_insulation_m") / n("roof_insulation_conductivity")
        return board / (under + material + more + outer) + bare * (1 - board)

    wood = n("wood_thickness_m") / n("wood_conductivity")
    polystyrene = n("foam_wall_thickness_m") / n("foam_wall_conductivity")
    ply = n("ply_roof_thickness_m") / n("ply_roof_conductivity")
    walls = foam * wall(polystyrene) + (1 - foam) * wall(wood)
    top = foam * roof(polystyrene) + (1 - foam) * roof(ply)
    floor = mesh * n("floor_mesh_w_per_k") + (1 - mesh) * n("floor_solid_w_per_k")
    box = n("wall_area_deep_box_m2") * boxes * height * walls + n("roof_area_m2") * top + floor
    return area * box + vent * n("vent_w_per_k")


def least_w(bees):
    """Southwick 1985: oxygen a gram and hour falls with mass to the power -0.479."""
    grams = bees * number("bee_mass_g")
    if grams == 0:
        return 0.0
    per_gram_hour = number("southwick_factor") * grams ** number("southwick_exponent")
    return grams * per_gram_hour * number("oxygen_j_per_ml") / 3600


def conductance_per_watt():
    """Set so that 17,000 bees in a bare single of wood make just their least heat at the lower critical temperature."""
    least = least_w(number("lower_critical_bees"))
    inside = number("lower_critical_c") + least / hive_w_per_k(1, 0, 0, 0, 0)
    return least / (number("core_broodless_c") - inside) / least


def colony_heat(bees, cells, outdoor, loss):
    """Find by halving the warmth inside at which what bees and brood give is what the hive loses."""
    least = least_w(bees)
    cluster = conductance_per_watt() * least
    frame = 2 * number("comb_side_deep_dm2") * number("worker_cells_per_dm2") * number("brood_fill")
    nest = number("brood_nest_w_per_k") * (max(cells, 0) / frame) ** (2 / 3)

    def given(inside):
        core = cluster * (number("core_broodless_c") - inside)
        return max(least, core) + max(0.0, nest * (number("core_brood_c") - inside))

    low, high = outdoor, outdoor + 1e3
    for _ in range(70):
        middle = (low + high) / 2
        low, high = (middle, high) if given(middle) > (middle - outdoor) * loss else (low, middle)
    return (low - outdoor) * loss


def daily_use(bees, cells, outdoor, loss):
    """Heat at 12.72 MJ/kg, activity in the warm, food of the brood; kg."""
    start, full = number("activity_from_c"), number("activity_full_c")
    busy = min(max((outdoor - start) / (full - start), 0.0), 1.0) * number("activity_mw_per_bee") / 1000 * bees
    kg = (colony_heat(bees, cells, outdoor, loss) + busy) * 86400 / (number("honey_energy_mj_per_kg") * 1e6)
    return kg + cells * number("brood_feed_mg_per_cell_day") / 1e6


# --- bees -----------------------------------------------------------------------------------------------------------
def usual_cells(bees, share):
    eggs = share * number("laying_most") * bees / (number("laying_half_bees") + bees)
    return eggs * number("brood_days") * number("brood_survives")


def next_day(bees, cells, share, dying):
    """Deaths at the day's rate; a twenty-first of the cells emerges and the day's eggs are sealed in."""
    born = cells / number("brood_days")
    return bees - dying * bees + born, cells - born + usual_cells(bees, share) / number("brood_days")


def carried_bees(bees, cells, days, shares, dying, idle=0):
    """Return (bees, low, high), (cells, low, high) after so many days, the last of the lists being yesterday."""
    if math.isnan(bees) or math.isnan(days):
        return (NAN,) * 3, (NAN,) * 3
    days = round(days)
    for ago in range(days, 0, -1):
        share = shares[-ago] if days - ago >= idle else 0.0
        if math.isnan(cells):
            cells = usual_cells(bees, share)
        bees, cells = next_day(bees, cells, share, dying[-ago])
    width = 1.96 * number("carry_sd_per_root_day") * math.sqrt(days)
    return tuple((x, x * max(0.0, 1 - w), x * (1 + w)) for x, w in ((bees, width), (cells, width + 0.02 * days)))


def later_bees(bees, cells, days, shares, dying):
    if math.isnan(cells):
        cells = usual_cells(bees, shares[0])
    for day in range(round(days)):
        bees, cells = next_day(bees, cells, shares[day], dying[day])
    return bees


# --- food -----------------------------------------------------------------------------------------------------------
def runway(bees, cells, kg, low, high, loss, ahead, forage, week_c=NAN, room=NAN, aged=0.0):
    """Day by day from today; ``ahead`` gives (outdoor, laying, income, dying) for each day."""
    guessed = math.isnan(cells)
    sd = number("use_sd_brood_unknown") if guessed else number("use_sd")
    if guessed:
        cells = usual_cells(bees, ahead[0][1])
    rough = 0.0
    if kg > 0:
        spread = (max(high, kg) - min(low, kg)) / (2 * Z95 * kg)
        rough = min(math.sqrt(math.log(1 + spread**2)), 1.5)
    rough = math.sqrt(rough**2 + (number("use_by_bees") * aged) ** 2)
    spread = math.sqrt(sd**2 + number("stores_estimate_sd") ** 2 + rough**2)
    uses = []
    for day, (outdoor, laying, _, dying) in enumerate(ahead[:365]):
        here = week_c if day < 7 and not math.isnan(week_c) else outdoor
        here = here if math.isnan(room) else max(room, here)
        uses.append(daily_use(bees, cells, here, loss))
        bees, cells = next_day(bees, cells, laying, dying)

    def empty(stock):
        """The moment the stock is eaten, within its day in proportion; beyond the year at its pace, 999 at most."""
        if math.isnan(stock):
            return NAN
        if stock <= 0:
            return 0.0
        eaten = 0.0
        for day, use in enumerate(uses):
            if eaten + use >= stock:
                return day + (stock - eaten) / use
            eaten += use
        return min(365 + (stock - eaten) / (eaten / 365), 999.0)

    tenth = kg * math.exp(-Z90 * spread)
    days = {0.025: empty(kg * math.exp(-Z95 * spread)), 0.1: empty(tenth), 0.5: empty(kg)}
    days[0.975] = empty(kg * math.exp(Z95 * spread))
    reserve = number("reserve_days") if forage > number("candy_days") else number("season_reserve_days")
    need = sum(uses[day] * (1 - ahead[day][2]) for day in range(forage))
    need += sum(uses[forage : forage + int(reserve)])
    check = int(number("candy_days"))
    nine_in_ten = need * math.exp(Z90 * number("use_sd"))
    moved = math.exp(Z95 * number("use_by_bees") * aged)
    week = sum(uses[:7])
    return SimpleNamespace(
        days=days,
        days_left=(days[0.1], empty(tenth * math.exp(-Z95 * rough)), empty(tenth * math.exp(Z95 * rough))),
        week=(week, week / math.exp(Z95 * sd), week * math.exp(Z95 * sd)),
        check=sum(uses[:check]) * math.exp(Z90 * sd),
        need=(nine_in_ten, nine_in_ten / moved, nine_in_ten * moved),
    )


def carried_stores(kg, low, high, days, bees, cells, loss, past, fed=0.0, room=NAN, holds=math.inf, aged=0.0):
    """Stores today; ``past`` gives (outdoor, laying, income, flow) for each day, the last being yesterday."""
    days = round(days)
    if days == 0:
        return kg, low, high
    used = found = most = 0.0
    for ago in range(days, 0, -1):
        outdoor, laying, income, flow = past[-ago]
        brood = usual_cells(bees, 1.0) * laying if math.isnan(cells) else cells
        here = outdoor if math.isnan(room) else max(room, outdoor)
        use = daily_use(bees, brood, here, loss)
        used += use
        found += use * income
        usual, _, best = band("season_income_share")
        most += (
            number("flow_gain_kg_day") * bees / number("flow_gain_bees") if flow else use * income * (best / usual - 1)
        )
    sugar, least, best = band("stores_per_sugar")
    sd = number("use_sd_brood_unknown") if math.isnan(cells) else number("use_sd")
    sd = math.hypot(sd, number("use_by_bees") * aged)
    noise = Z95 * math.hypot(number("stores_estimate_sd") * kg, sd * used)
    middle = kg - used + found + fed * sugar
    below = math.hypot(noise, kg - low) + found + fed * (sugar - least)
    above = math.hypot(noise, high - kg) + most + fed * (best - sugar)
    holds = max(holds, kg)
    if middle - below <= 0 and middle + above >= number("nothing_known_share") * holds:
        return NAN, NAN, NAN
    return tuple(min(max(x, 0.0), holds) for x in (middle, middle - below, middle + above))


def use_ratio(before, after, first, last, fed, bees, cells, loss, past):
    """Return (ratio, low, high) of eaten to expected between two sightings."""
    expected = outside = 0.0
    for ago in range(first, last, -1):
        outdoor, laying, income, flow = past[-ago]
        brood = usual_cells(bees, laying) if math.isnan(cells) else cells
        expected += daily_use(bees, brood, outdoor, loss)
        outside += income + flow
    if first - last < 7 or expected < 0.3 or outside > 0:
        return NAN, NAN, NAN
    ratio = max(before - after + fed * number("stores_per_sugar"), 0.0) / expected
    seen = number("stores_estimate_sd") * math.hypot(before, after) / expected
    sd = math.hypot(number("use_sd") * ratio, seen)
    return ratio, max(ratio - Z95 * sd, 0.0), ratio + Z95 * sd


def winter_saving(bees, now, then, year):
    """Heat saved on days under 12 degC with the usual brood, as honey; ``year`` gives (outdoor, laying)."""
    watts = 0.0
    for outdoor, laying in year:
        if outdoor < 12:
            cells = usual_cells(bees, laying)
            watts += colony_heat(bees, cells, outdoor, now) - colony_heat(bees, cells, outdoor, then)
    return max(watts, 0.0) * 86400 / (number("honey_energy_mj_per_kg") * 1e6)


def feed(stores, need, check):
    """Return (candy, (sugar, least, most), thick, thin, share missing)."""
    missing = max(need - stores, 0.0)
    rate, low, high = band("stores_per_sugar")
    least = number("candy_least_kg")
    spell = min(max(check - stores, least), max(missing, least))
    candy = math.ceil(2 * spell) / 2 if missing > 0 or stores < check else 0.0
    thin = max(min(missing, check), min(check / 2, 2 * (check - stores))) / rate / number("sugar_per_litre_thin")
    share = (need - stores) / need if need > 0 else 0.0
    sugar = (missing / rate, missing / high, missing / low)
    return candy, sugar, missing / rate / number("sugar_per_litre_thick"), thin, share
