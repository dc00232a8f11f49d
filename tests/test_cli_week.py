"""The week command: exit codes, what goes to which stream, and the shipped scenarios."""

import json

import pytest

from hiveweek import content
from hiveweek.cli.main import main

SCENARIOS = sorted((content.root() / "scenarios").glob("*.yaml"))
GOOD = """
scenario: light hive before the willows
climate: long_snow_cover
date: 2026-02-10
hives:
  - id: NO
    facts: {food.stores_kg: 2, colony.frames_of_bees: 5, hive.size: single, hive.frames: 10, hive.frame: deep, food.heft: light,
            weather.high_c: -4, weather.open_high_c: -4, weather.low_c: -20}
"""


@pytest.fixture
def good(tmp_path):
    path = tmp_path / "good.yaml"
    path.write_text(GOOD, encoding="utf-8")
    return str(path)


def _run(capsys, *words):
    try:
        code = main(["week", *words])
    except SystemExit as stop:
        code = stop.code
    out = capsys.readouterr()
    return code, out.out, out.err


def test_an_answer_exits_with_nought(capsys, good):
    code, out, err = _run(capsys, good, "--offline")
    assert code == 0 and "Hive NO" in out and err == ""


def test_json_is_metric_and_keeps_ids_as_written(capsys, good):
    code, out, _ = _run(capsys, good, "--offline", "--json", "--imperial")
    data = json.loads(out)
    assert code == 0 and data["hives"][0]["id"] == "NO" and "°F" not in out
    assert data["hives"][0]["advice"][0]["action"] == "feed-candy"


def test_every_problem_is_a_line_and_the_code_is_two(capsys, tmp_path):
    path = tmp_path / "bad.yaml"
    path.write_text(
        GOOD.replace("food.stores_kg", "food.store_kg").replace("long_snow_cover", "long_snow"), encoding="utf-8"
    )
    code, out, err = _run(capsys, str(path), "--offline")
    assert code == 2 and out == ""
    lines = err.strip().splitlines()
    assert len(lines) >= 2 and all(":" in line for line in lines)
    assert any("food.stores_kg" in line for line in lines) and any("long_snow_cover" in line for line in lines)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--hive", "MO"], "NO"),
        (["--date", "10.2.2026"], "2026-02-10"),
        (["--why", "food.candy-noww"], "nearest"),
        (["--forecast", "no-such.csv"], "no-such.csv"),
        (["--rules", "no-such.yaml"], "no-such.yaml"),
    ],
)
def test_unusable_words_exit_with_two_and_say_what_is_meant(capsys, good, words, said):
    code, out, err = _run(capsys, good, "--offline", *words)
    assert code == 2 and said in err and out == ""


def test_a_missing_file_is_named(capsys):
    code, _, err = _run(capsys, "nowhere.yaml", "--offline")
    assert code == 2 and "nowhere.yaml" in err


def test_without_a_file_the_demo_is_shown_and_says_so(capsys):
    code, out, _ = _run(capsys, "--offline")
    assert code == 0 and "demo apiary" in out.splitlines()[0]


def test_a_later_date_moves_the_answer(capsys, good):
    later = json.loads(_run(capsys, good, "--offline", "--json", "--date", "2026-05-20")[1])
    assert later["date"] == "2026-05-20" and later["phase"] != "winter_cluster"


def test_why_and_facts(capsys, good):
    code, out, _ = _run(capsys, good, "--offline", "--why", "no-liquid-in-cold")
    assert code == 0 and "at hive NO: holds" in out
    data = json.loads(_run(capsys, good, "--offline", "--json", "--facts")[1])
    assert data["hives"][0]["facts"]["food.stores_kg"]["value"] == 2
    assert "colony.eggs" in data["hives"][0]["unknown"]


def test_channels_that_differ_exit_with_three(capsys, good, monkeypatch):
    from hiveweek.inference import channel

    difference = channel.Difference("rule", "food.candy-now", "NO")
    result = channel.ChannelResult("differs", [difference])
    monkeypatch.setattr(channel.Started, "finish", lambda self, inference: result)
    code, out, err = _run(capsys, good, "--offline", "--json")
    assert code == 3 and "food.candy-now" in err and "NO" in err
    assert json.loads(out)["channels"]["rete"] == "differs"
    code, out, err = _run(capsys, good, "--offline", "--strict")
    assert code == 3 and out == "" and "no answer" in err


@pytest.mark.parametrize("path", SCENARIOS, ids=[p.stem for p in SCENARIOS])
def test_shipped_scenarios_answer_as_they_expect(path, capsys):
    from hiveweek.facts import read_scenario

    code, out, err = _run(capsys, str(path), "--offline", "--json")
    assert code == 0, err
    data = json.loads(out)
    scenario = read_scenario(path)
    everything = set()
    for hive, said in zip(scenario.hives, data["hives"], strict=True):
        actions = [a["action"] for a in said["advice"]]
        everything |= set(actions)
        expect = hive.expect
        assert not expect.get("top") or actions[0] in expect["top"], (hive.id, actions)
        assert set(expect.get("includes", ())) <= set(actions), (hive.id, actions)
        assert not set(expect.get("excludes", ())) & set(actions), (hive.id, actions)
        assert all(set(group) & set(actions) for group in expect.get("includes_any", ())), (hive.id, actions)
    assert set(scenario.expect.get("includes", ())) <= everything
    assert actions or data["hives"][-1]["nothing_due"]


def test_the_demo_has_varied_troubles(capsys):
    data = json.loads(_run(capsys, "--offline", "--json")[1])
    tops = [hive["advice"][0]["action"] if hive["advice"] else None for hive in data["apiaries"][0]["hives"]]
    assert len(tops) == 8 and len(set(tops)) >= 5


OVERLAY = """
overlay: mine
layer: author
for: [long_snow_cover]
version: 1
add:
  reason: our valley
  rules:
    - id: mine.valley
      when: colony.frames_of_bees > 1
      advise: heft-hive
      by: 3 d
      stakes: {loses: colony, gain_pts: 20, source: judgement}
      because: "It is 3 degC warmer here than at the station, which says {weather.open_high_c}."
      safety: "Lift one side at a time; a hive can weigh 40 kg."
      source: common-practice
      evidence: practice
"""


def test_a_step_of_temperature_in_an_overlay_is_no_temperature_on_the_screen(capsys, good, tmp_path):
    path = tmp_path / "mine.yaml"
    path.write_text(OVERLAY, encoding="utf-8")
    code, out, err = _run(capsys, good, "--offline", "--rules", str(path), "--imperial")
    said = " ".join(out.split())
    assert code == 0, err
    assert "It is 3 °C (5 °F) warmer here than at the station, which says -4 °C (25 °F)." in said  # 3 x 9/5 = 5.4
    assert "a hive can weigh 40 kg (88 lb)" in said
    code, out, _ = _run(capsys, good, "--offline", "--rules", str(path), "--json")
    assert "It is 3 °C warmer here than at the station, which says -4 °C." in out
