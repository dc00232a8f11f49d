"""What a keeper reads on the screen."""

import datetime as dt
import os
import re
import subprocess
import sys

import pytest
from promises_kit import SINGLE, facts, quick, scenario, week, words

from hiveweek import content

SCENARIOS = sorted((content.root() / "scenarios").glob("*.yaml"))
DATES = ["2026-01-15", "2026-04-20", "2026-06-10", "2026-10-05"]
PROMISES = re.compile(r"\b(?:safe|safely|harmless|guaranteed)\b", re.IGNORECASE)


@pytest.fixture(autouse=True)
def _quick(monkeypatch):
    quick(monkeypatch)


def _plain(text: str) -> str:
    return " ".join(text.split())


def _fits(text: str) -> None:
    assert max(len(line) for line in text.splitlines()) <= 80, max(text.splitlines(), key=len)
    assert "\x1b" not in text and "\t" not in text and not re.search(r"[\u2500-\u257f]", text)


@pytest.mark.parametrize("path", SCENARIOS, ids=[path.stem for path in SCENARIOS])
def test_no_line_is_wider_than_eighty_columns(capsys, path):
    code, out, err = week(capsys, path, "--facts", "--imperial")
    assert code == 0 and err == ""
    _fits(out)


@pytest.mark.parametrize("date", DATES)
def test_the_demo_fits_and_keeps_its_tone_all_year(capsys, date):
    code, out, _ = week(capsys, "--date", date)
    assert code == 0
    _fits(out)
    assert (
        "!" not in out
        and not PROMISES.search(out)
        and "{" not in out
        and "nan" not in re.findall(r"[a-z]+", out.lower())
    )
    assert "The label of your registered product and local law win" in _plain(out)


def test_why_fits_too(capsys):
    for rule in ("food.hungry-in-warm-weather", "mites_deciding.treat-late-summer", "no-liquid-in-cold"):
        code, out, _ = week(capsys, "--why", rule)
        assert code == 0 and rule in out
        _fits(out)


def test_piped_to_a_program_it_is_plain(tmp_path):
    path = scenario(
        tmp_path,
        "cool_continental",
        "2026-03-14",
        {"A": facts(f"{SINGLE}, colony.frames_of_bees: 5, food.stores_kg: 3")},
    )
    env = {**os.environ, "HIVEWEEK_NO_CACHE": "1", "TERM": "xterm-256color", "COLUMNS": "200"}
    env.pop("FORCE_COLOR", None)
    ran = subprocess.run(
        [sys.executable, "-m", "hiveweek.cli.main", "week", str(path), "--offline"],
        capture_output=True,
        text=True,
        timeout=120,
        env=env,
        check=False,
    )
    assert ran.returncode == 0 and ran.stderr == "" and "Hive A" in ran.stdout
    _fits(ran.stdout)


def test_what_was_seen_what_is_estimated_and_what_is_usual_are_told_apart(capsys, tmp_path):
    known = facts(f"{SINGLE}, hive.supers: 0, food.feed_on: none, colony.frames_of_brood: 1, weather.low_c: -2")
    looks = {"A": [{"date": dt.date(2026, 2, 8), **facts("food.stores_kg: 4.5, colony.frames_of_bees: 6")}]}
    path = scenario(tmp_path, "cool_continental", "2026-03-01", {"A": known}, observed=looks)
    code, out, _ = week(capsys, path, "--facts")
    said = {line.split(":")[0].strip(): line for line in _facts_block(out)}
    assert code == 0
    assert said["hive.supers"].endswith("(seen 2026-03-01)")
    assert (
        said["food.stores_kg"].endswith("(estimated, carried forward from 2026-02-08)")
        and "likely" in said["food.stores_kg"]
    )
    assert said["food.days_left"].endswith("(worked out)") and "likely" in said["food.days_left"]
    assert "(usual here" in said["weather.high_c"] and said["weather.low_c"].endswith("(given)")
    card = _plain(out[out.index("Hive A") : out.index("What is known of hive A")])
    assert "Estimated, carried forward from 8 February: honey and ripened syrup in the hive" in card
    assert "Worked out: days of food left" in card and "Usual here" in card


def _facts_block(out: str) -> list[str]:
    """The facts of --facts, each on one line again."""
    block = out[out.index("What is known of hive") :].splitlines()[1:]
    lines: list[str] = []
    for line in block:
        if re.match(r"  [a-z]+\.[a-z0-9_]+:", line):
            lines.append(line.strip())
        elif line.startswith("      ") and lines:
            lines[-1] += " " + line.strip()
        elif not line.startswith("  "):
            break
    return lines


def test_a_forecast_is_named_as_the_basis(capsys, tmp_path):
    path = scenario(tmp_path, "cool_continental", "2026-05-10", {"A": facts(f"{SINGLE}, colony.frames_of_bees: 8")})
    csv = _forecast(tmp_path, dt.date(2026, 5, 10), [0] * 7)
    assert "from the forecast" in _plain(week(capsys, path, "--forecast", csv)[1])
    assert "what is usual here, no forecast" in _plain(week(capsys, path)[1])


# --- rain -------------------------------------------------------------------------------------------------------------------------
def _forecast(folder, start, rain):
    csv = folder / "days.csv"
    csv.write_text(
        "date,tmin_c,tmax_c,precip_mm,wind_kmh\n"
        + "".join(f"{start + dt.timedelta(days=k)},8,16,{mm},12\n" for k, mm in enumerate(rain))
    )
    return csv


@pytest.fixture
def wet_yard(tmp_path):
    hungry = facts(
        "hive.size: single, hive.frames: 11, hive.frame: deep, hive.supers: 0, colony.frames_of_bees: 11, colony.frames_of_brood: 8, "
        "colony.queen: seen, colony.eggs: true, colony.queen_cells: none, food.stores_kg: 1, food.nectar: none, food.feed_on: none, "
        "hive.gaps: true, hive.entrance: full"
    )
    return scenario(tmp_path, "cool_maritime", "2026-06-10", {"Full": hungry})


def test_a_week_of_rain_says_what_to_do_in_it(capsys, tmp_path, wet_yard):
    code, out, _ = week(
        capsys, wet_yard, "--forecast", _forecast(tmp_path, dt.date(2026, 6, 10), [6, 8, 4, 9, 5, 7, 3])
    )
    text = _plain(out)
    assert code == 0 and "Rain is expected on every day of this week." in text
    outside = re.search(r"In the rain you can: ([^.]*)\.", text).group(1)
    opening = re.search(r"One dry hour is for: ([^.]*)\.", text).group(1)
    labels = {body.label: body for body in words().actions.values()}
    for said, opens in ((outside, False), (opening, True)):
        names = [re.sub(r" \(Full\)$", "", part) for part in re.split(r", | and ", said)]
        assert names and all((labels[name].opens != "nothing") == opens for name in names), names
    assert "feed thin syrup (Full)" in opening and "close gaps (Full)" in outside
    assert "No day of the week is known to be dry and warm" in text and "Best day for opening" not in text


@pytest.mark.parametrize("dry", [0, 3, 6])
def test_the_last_good_day_before_or_between_the_rain_is_named(capsys, tmp_path, wet_yard, dry):
    rain = [0 if k == dry else 6 for k in range(7)]
    text = _plain(week(capsys, wet_yard, "--forecast", _forecast(tmp_path, dt.date(2026, 6, 10), rain))[1])
    day = dt.date(2026, 6, 10) + dt.timedelta(days=dry)
    assert "Rain is expected on 6 of the 7 days of this week." in text
    assert f"Last good day of the week: {day:%A} {day.day} June." in text and "One dry hour is for: " in text


def test_a_dry_week_is_not_spoken_of_as_rain(capsys, tmp_path, wet_yard):
    text = _plain(
        week(capsys, wet_yard, "--forecast", _forecast(tmp_path, dt.date(2026, 6, 10), [0, 0, 0, 6, 0, 0, 0]))[1]
    )
    assert "Rain is expected" not in text and "Best day for opening" in text


# --- what stands in ---------------------------------------------------------------------------------------------------------------
def test_too_late_for_syrup_the_substitute_is_offered(capsys, tmp_path):
    known = facts(
        f"{SINGLE}, hive.supers: 0, colony.frames_of_bees: 7, colony.frames_of_brood: 0, food.stores_kg: 6, food.feed_on: none, "
        "weather.high_c: 7, weather.open_high_c: 6, weather.low_c: -3"
    )
    code, out, _ = week(capsys, scenario(tmp_path, "cool_continental", "2026-11-10", {"A": known}))
    card = _plain(out[out.index("Hive A") :])
    assert code == 0 and "1. Give candy above the bees" in card
    assert "Syrup time is over" in card or "too cool for syrup" in card or "too cold for syrup" in card
    assert "feed thin syrup" not in card.lower() and "feed thick syrup" not in card.lower()


def test_nothing_due_is_said_kindly_with_the_next_date(capsys):
    demo = _plain(week(capsys, "--all")[1])
    match = re.search(
        r"(What is known of this hive is in order, and nothing is due this week\.|Nothing (?:else )?known here asks for work this week\.) "
        r"Next: about (\d+) ([A-Z][a-z]+), ([^.]+)\.",
        demo,
    )
    assert match, "one hive of the demo is in order"
    assert dt.datetime.strptime(f"{match.group(2)} {match.group(3)} 2026", "%d %B %Y").date() > dt.date(2026, 8, 10)


def test_first_things_first(capsys):
    """What is due comes before what comes due later, and what is late stands with what is due today."""
    lines = week(capsys)[1].splitlines()
    head = next(k for k, line in enumerate(lines) if re.match(r"\s+by\s+hive\s", line))
    rows = [line for line in lines[head + 1 :] if re.match(r"  (today|late|-|\w{3} \d+|\d+ \w{3}) ", line)]
    assert len(rows) == 8 and rows[-1].startswith("  -") and "nothing due" in rows[-1]
    ranks = [0 if re.match(r"  (today|late)", row) else 2 if row.startswith("  -") else 1 for row in rows]
    assert ranks == sorted(ranks)
    days = [int(re.search(r"\d+", row)[0]) for row, rank in zip(rows, ranks, strict=True) if rank == 1]
    assert len(days) >= 3 and days == sorted(days)


def test_one_hive_alone_shows_no_other(capsys):
    demo = week(capsys, "--all")[1]
    ids = re.findall(r"^Hive (\S+)", demo, flags=re.MULTILINE)
    alone = week(capsys, "--hive", ids[1])[1]
    assert re.findall(r"^Hive (\S+)", alone, flags=re.MULTILINE) == [ids[1]]
