"""Loading profiles, the printed contract, traits, and what is said of broken files."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest

from hiveweek import content, vocabulary
from hiveweek.climate import Profile, load_profile, profile_ids, profile_json
from hiveweek.climate.events import EVENT_IDS
from hiveweek.climate.moist_air import mean_saturation_hpa, relative_humidity_pct, saturation_hpa
from hiveweek.problems import InputProblems

GOOD = (content.root() / "climate_profiles" / "mild_maritime.yaml").read_text(encoding="utf-8")
CSV = content.root() / "climate_profiles" / "normals" / "cool_maritime.csv"


def problems_of(call):
    with pytest.raises(InputProblems) as caught:
        call()
    return caught.value.problems


def test_unknown_ids_get_the_nearest_one():
    problem = problems_of(lambda: load_profile("mild_maratime"))[0]
    assert problem.code == "unknown-profile" and "mild_maritime" in problem.message


def test_a_profile_id_is_never_a_path():
    for name in ("../pyproject", "normals/mild_maritime", "", "."):
        assert problems_of(lambda name=name: load_profile(name))[0].code == "unknown-profile"


@pytest.mark.parametrize("name", profile_ids())
def test_the_printed_contract(name):
    shown = profile_json(load_profile(name))
    assert list(shown) == [
        "profile",
        "source",
        "phases",
        "events",
        "monthly",
        "winter_weeks",
        "snow_weeks",
        "koppen",
    ]
    assert list(shown["events"]) == list(EVENT_IDS)
    assert all(set(phase) == {"phase", "from", "to"} for phase in shown["phases"])
    text = json.dumps(shown, allow_nan=False)
    assert json.loads(text) == shown
    assert text == json.dumps(profile_json(load_profile(name)))


@pytest.mark.parametrize("name", profile_ids())
def test_traits_are_the_climate_facts(name):
    words = {k: f for k, f in vocabulary.load().facts.items() if k.startswith("climate.")}
    facts = load_profile(name).traits()
    assert set(facts) == set(words)
    for fact, value in facts.items():
        if value is not None and words[fact].low is not None:
            assert words[fact].low <= value <= words[fact].high


def test_traits_against_what_the_stations_report():
    # Days with snow lying reported by the stations, 2003-2020, as far as they report: weeks at least this many
    for name, days in (
        ("long_snow_cover", 158.8),
        ("boreal", 139.7),
        ("cold_steppe", 128.3),
        ("snowy_continental", 87.3),
    ):
        weeks = load_profile(name).traits()["climate.snow_weeks"]
        assert days / 7 - 0.3 <= weeks <= days / 7 + 1.5, name
    assert load_profile("mild_maritime").traits()["climate.snow_weeks"] < 0.2
    assert (
        load_profile("windy_islands").traits()["climate.winter_rh_pct"] is None
    )  # neither humidity nor vapour reported
    dry, damp = (load_profile(n).traits()["climate.winter_rh_pct"] for n in ("hot_desert", "mild_maritime"))
    assert dry < 45 and damp > 85
    weeks = {n: load_profile(n).traits()["climate.winter_weeks"] for n in profile_ids()}
    assert weeks["warm_winter"] == 0 and weeks["humid_subtropical"] < weeks["cool_continental"] < weeks["subarctic"]


def test_humidity_against_published_values():
    # WMO Magnus: 23.33 hPa at 20 degC, 31.60 at 25, 8.72 at 5; PsychroLib 23.388 at 20
    for celsius, hpa in ((20, 23.33), (25, 31.60), (5, 8.72), (0, 6.11)):
        assert saturation_hpa(celsius) == pytest.approx(hpa, abs=0.01)
    assert relative_humidity_pct(25.0, saturation_hpa(16.0)) == pytest.approx(
        57.4, abs=0.1
    )  # PsychroLib 57.38, MetPy 57.42
    assert np.isnan(relative_humidity_pct(6.8, 10.48))  # more than such air holds
    assert np.isnan(relative_humidity_pct(10.0, np.nan))
    for spread, bar in ((4.0, 0.01), (8.0, 0.035)):
        draws = np.random.default_rng(7).normal(-15, spread, 200_000)
        assert mean_saturation_hpa(-15.0, spread) == pytest.approx(saturation_hpa(draws).mean(), rel=bar)


def test_normals_of_a_scenario(tmp_path):
    profile = Profile.from_normals({"normals": CSV.name, "lat": 60.4, "lon": 5.3, "elev_m": 40}, base=CSV.parent)
    shipped = load_profile("cool_maritime")
    assert profile.id == "cool_maritime" and profile.koppen == shipped.koppen
    assert profile.calendar.phase(dt.date(2025, 1, 10)) == shipped.calendar.phase(dt.date(2025, 1, 10))
    found = problems_of(
        lambda: Profile.from_normals({"normals": "none.csv", "lat": 95, "lon": "x", "elev_m": 1}, tmp_path)
    )
    assert {p.code for p in found} == {"no-file", "out-of-range", "wrong-type"} and len(found) == 3
    assert problems_of(lambda: Profile.from_normals({"lat": 1, "lon": 1, "elev_m": 1}))[0].code == "missing-key"


@pytest.mark.parametrize(
    ("change", "code", "line"),
    [
        (("lat: 51.85", "lat: 151.85"), "out-of-range", 7),
        (("tmean_c: [5.6,", "tmean_c: [warm,"), "wrong-type", 19),
        (("tmean_c: [5.6,", "tmean_c: ["), "out-of-range", 19),
        (("tmean_c: [5.6,", "tmean_c: [null,"), "wrong-type", 19),
        (("tmin_c:", "tmni_c:"), "unknown-column", 20),
        (("monthly:", "montly:"), "unknown-key", 18),
    ],
)
def test_broken_profiles_name_the_place(tmp_path, change, code, line):
    path = tmp_path / "p.yaml"
    assert change[0] in GOOD
    path.write_text(GOOD.replace(*change, 1), encoding="utf-8")
    found = problems_of(lambda: load_profile(path))
    assert (code, line) in [(p.code, p.line) for p in found]


@pytest.mark.parametrize(
    ("overrides", "code"),
    [
        ({"main_flow": {"from": "06-01", "to": "06-05", "note": "x"}}, "unknown-event"),
        ({"main_flow_start": {"from": "06-01", "to": "06-05"}}, "missing-key"),
        ({"main_flow_start": {"from": "06-31", "to": "06-05", "note": "x"}}, "no-such-date"),
        ({"main_flow_start": "June"}, "wrong-type"),
        (["June"], "wrong-type"),
        (
            {
                "main_flow_start": {"from": "07-01", "to": "07-05", "note": "x"},
                "main_flow_end": {"from": "06-01", "to": "06-05", "note": "x"},
            },
            "order",
        ),
    ],
)
def test_broken_local_dates(overrides, code):
    assert problems_of(lambda: load_profile("mild_maritime").with_overrides(overrides))[0].code == code


def test_local_dates_of_a_profile_file_and_of_an_apiary_add_up(tmp_path):
    path = tmp_path / "p.yaml"
    path.write_text(
        GOOD + 'overrides:\n  main_flow_end: {from: "08-25", to: "08-30", note: "heather"}\n',
        encoding="utf-8",
    )
    profile = load_profile(path)
    assert profile.calendar.events["main_flow_end"] == ("08-25", "08-30")
    both = profile.with_overrides({"first_pollen": {"from": "02-01", "to": "02-10", "note": "hazel by the house"}})
    assert both.calendar.events["main_flow_end"] == ("08-25", "08-30")
    assert both.calendar.events["first_pollen"] == ("02-01", "02-10")
    assert profile.with_overrides(None) is profile


def test_notes_tell_what_is_estimated():
    notes = " ".join(map(str, load_profile("windy_islands").notes))
    assert "dampness is not known" in notes and "usual spread is taken" in notes
    assert all("usual spread" not in note for note in map(str, load_profile("cool_continental").notes))
    for name in profile_ids():
        for note in map(str, load_profile(name).notes):
            assert "!" not in note and "safe" not in note.split()
