"""The week without a file: all apiaries of the record, or the demo where there is no record yet."""

import pytest

DAY = ("--date", "2026-05-10", "--offline")


@pytest.fixture
def yards(run, tmp_path):
    overlay = tmp_path / "mine.yaml"
    overlay.write_text(
        "overlay: mine\nlayer: apiary\nversion: 1\ndisable:\n"
        "  - {rule: food.candy-now, reason: tried without it, source: common-practice}\n",
        encoding="utf-8",
    )
    run("apiary", "new", "Mill Lane", "--climate", "cool_continental", "--jurisdiction", "england")
    run("apiary", "new", "Hill", "--climate", "boreal", "--region", str(overlay))
    for name, apiary in (("Ash", "Mill Lane"), ("Birch", "Mill Lane"), ("Ash", "Hill")):
        run("hive", "add", name, "hive.size=single", "hive.frames=10", "--apiary", apiary, "--date", "2026-04-01")
    return run


def test_without_a_record_the_demo_answers_in_the_same_shape(run, tmp_path):
    found = run("week", "--json", "--offline")
    assert list(found) == ["date", "source", "apiaries"] and found["source"] == "demo"
    assert [len(apiary["hives"]) for apiary in found["apiaries"]] == [8]
    assert not (tmp_path / "record.sqlite").exists()
    one = run("week", "--json", "--offline", "--hive", "Ash")
    assert [hive["id"] for hive in one["apiaries"][0]["hives"]] == ["Ash"]
    assert "unknown-hive" in run("week", "--hive", "Ahs", code=2)
    assert "unknown-apiary" in run("week", "--apiary", "Mill Lane", code=2)
    assert "no-record" in run("week", "--record", str(tmp_path / "other.sqlite"), code=2)


def test_every_apiary_answers_with_its_own_climate_law_and_rules(yards):
    found = yards("week", "--json", *DAY)
    assert (found["source"], found["date"]) == ("record", "2026-05-10")
    by_name = {apiary["apiary"]["name"]: apiary for apiary in found["apiaries"]}
    assert {name: apiary["climate"] for name, apiary in by_name.items()} == {
        "Hill": "boreal",
        "Mill Lane": "cool_continental",
    }
    assert {name: [hive["id"] for hive in apiary["hives"]] for name, apiary in by_name.items()} == {
        "Hill": ["Ash"],
        "Mill Lane": ["Ash", "Birch"],
    }
    named = {name: {rules["name"] for rules in apiary["rulesets"]} for name, apiary in by_name.items()}
    assert "mine" in named["Hill"] - named["Mill Lane"] and "england" in named["Mill Lane"] - named["Hill"]
    assert all(hive["advice"] or hive["nothing_due"] for apiary in by_name.values() for hive in apiary["hives"])


def test_one_apiary_or_one_hive_is_shown(yards):
    assert [a["apiary"]["name"] for a in yards("week", "--json", "--apiary", "hill", *DAY)["apiaries"]] == ["Hill"]
    found = yards("week", "--json", "--hive", "Mill Lane/Ash", *DAY)
    assert [[hive["id"] for hive in apiary["hives"]] for apiary in found["apiaries"]] == [["Ash"]]
    shown = yards("week", "--hive", "Birch", *DAY)
    assert "Hive Birch" in shown and "Hive Ash" not in shown and "Mill Lane" in shown
    assert "two-hives" in yards("week", "--hive", "Ash", *DAY, code=2)


def test_the_screen_shows_every_apiary(yards):
    shown = yards("week", *DAY)
    assert shown.index("Hill") < shown.index("Mill Lane")
    assert "record yet" not in shown


def test_the_page_shows_every_apiary(yards, tmp_path):
    out = tmp_path / "week.html"
    yards("week", "--page", str(out), *DAY)
    text = out.read_text(encoding="utf-8")
    assert "<title>Hill: week of Sunday 10 May 2026; Mill Lane: week of Sunday 10 May 2026</title>" in text
    assert text.count("<h1>") == 2 and text.index("Hive Ash") < text.index("Mill Lane, week of") < text.index(
        "Hive Birch"
    )
    yards("week", "--page", str(out), "--hive", "Birch", *DAY)
    text = out.read_text(encoding="utf-8")
    assert "<title>Mill Lane: week of" in text and "Hive Ash" not in text


def test_a_day_before_the_first_hive_says_who_comes_later(yards):
    shown = yards("week", "--date", "2026-03-01", "--offline", "--apiary", "Mill Lane")
    assert "not here yet on 1 March 2026: Ash came on 1 April, Birch came on 1 April" in " ".join(shown.split())
    yards("hive", "end", "Hill/Ash", "--date", "2026-06-01")
    found = yards("week", "--json", "--date", "2026-06-02", "--offline", "--apiary", "Hill")["apiaries"][0]
    assert found["hives"] == [] and "no hive stands here on 2 June 2026" in found["weather"]["notes"]


def test_what_was_noted_to_bring_joins_the_kit_until_the_hive_is_looked_at_again(yards):
    yards("note", "Birch", "eggs seen. Next time bring a nuc box and tape", "--date", "2026-05-01")
    yards("note", "Hill/Ash", "bring next time smoker fuel", "--date", "2026-05-01")
    found = {a["apiary"]["name"]: a["apiary"]["bring"] for a in yards("week", "--json", *DAY)["apiaries"]}
    assert found["Mill Lane"] == [{"hive": "Birch", "thing": "a nuc box and tape", "noted": "2026-05-01"}]
    assert [one["thing"] for one in found["Hill"]] == ["smoker fuel"]
    assert "As you noted, bring: a nuc box and tape (Birch)." in " ".join(yards("week", *DAY).split())
    yards("note", "Birch", "5 seams", "--date", "2026-05-08")
    found = {a["apiary"]["name"]: a["apiary"]["bring"] for a in yards("week", "--json", *DAY)["apiaries"]}
    assert found["Mill Lane"] == [] and found["Hill"]


def test_hives_that_came_later_or_ended_are_left_out(yards):
    early = yards("week", "--json", "--date", "2026-03-01", "--offline")
    assert [apiary["hives"] for apiary in early["apiaries"]] == [[], []]
    yards("hive", "end", "Birch", "--date", "2026-05-01")
    found = yards("week", "--json", "--apiary", "Mill Lane", *DAY)
    assert [hive["id"] for hive in found["apiaries"][0]["hives"]] == ["Ash"]
    assert "hive-ended" in yards("week", "--hive", "Birch", *DAY, code=2)


def test_a_moved_hive_answers_where_it_stands_with_what_was_noted_before(yards):
    yards("hive", "move", "Birch", "--to", "Hill", "--date", "2026-05-05")
    found = yards("week", "--json", "--facts", "--apiary", "Hill", *DAY)
    birch = next(hive for hive in found["apiaries"][0]["hives"] if hive["id"] == "Birch")
    assert birch["facts"]["hive.size"]["value"] == "single"
    assert birch["facts"]["hive.days_since_moved"]["value"] == 5


def test_why_tells_of_each_apiary_where_the_rule_holds(yards):
    shown = yards("week", "--why", "food.candy-now", *DAY)
    assert "Mill Lane" in shown and "Hill" not in shown
    assert "nearest: food.candy-now" in yards("week", "--why", "food.candy-nw", *DAY, code=2)


def test_a_rule_file_that_is_gone_is_told_and_the_other_apiary_still_answers(yards, tmp_path):
    (tmp_path / "mine.yaml").unlink()
    assert "mine.yaml" in yards("week", *DAY, code=2)
    assert yards("week", "--json", "--apiary", "Mill Lane", *DAY)["apiaries"]


def test_a_file_and_a_record_do_not_mix(yards, tmp_path):
    assert "bad-words" in yards("week", "some.yaml", "--apiary", "Hill", code=2)
