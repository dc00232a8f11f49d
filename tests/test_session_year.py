"""A keeper's year by the command line: notes, jobs done and put off on a fresh record, and what is asked on some of its days.

Two hives near Munich, March to March. What a day must ask stands beside it, from the contents of club calendars and labels: hunger in
March is fed at once; charged queen cells are acted on within days; four mites in a hundred in July are treated within a fortnight, two
in three hundred are not; contact strips stay six to eight weeks; an entrance is guarded before mice come in; the dead stay dead.
"""

import datetime as dt
import json

import pytest

from hiveweek.cli.main import main

FEEDS = {"feed-candy", "feed-dry-sugar", "feed-thin-syrup", "feed-thick-syrup", "give-honey-frames"}
OPENING = {
    "full-inspection",
    "first-spring-inspection",
    "swarm-inspection",
    "add-super",
    "add-brood-box",
    "count-mites",
}


class Year:
    """Drives the commands; ``on`` is the day of all that follows."""

    def __init__(self, capsys):
        self.capsys, self.day = capsys, ""

    def run(self, *words, code=0):
        self.capsys.readouterr()
        found = main([*words, "--date", self.day] if words[0] not in ("apiary", "undo") else list(words))
        said = self.capsys.readouterr()
        assert found == code, (words, said)
        return said.out + said.err

    def on(self, day):
        self.day = day
        return self

    def note(self, hive, text):
        said = self.run("note", hive, text)
        assert "not understood" not in said and said.endswith("Stored; 'hiveweek undo' takes it back.\n"), said

    def week(self):
        (yard,) = json.loads(self.run("week", "--json", "--offline"))["apiaries"]
        return {hive["id"]: Card(hive) for hive in yard["hives"]}


class Card:
    """What is said of one hive."""

    def __init__(self, hive):
        self.hive = hive
        self.jobs = {advice["action"]: advice for advice in hive["advice"]}
        self.names = set(self.jobs)
        self.away = {one["action"]: one["until"] for one in hive["put_away"]}
        self.waits = {one["action"] for one in hive["withheld"]}

    def due(self, action):
        return dt.date.fromisoformat(self.jobs[action]["due_by"])


@pytest.fixture
def year(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("HIVEWEEK_RECORD", str(tmp_path / "record.sqlite"))
    year = Year(capsys)
    year.run("apiary", "new", "Mill Lane", "--climate", "cool_continental")
    box = ("hive.size=single", "hive.frames=10", "hive.frame=deep", "hive.mouse_guard=true", "hive.supers=0")
    for name in ("Ash", "Elm"):
        year.on("2025-03-12").run("hive", "add", name, *box)
    return year


def test_a_year_is_answered_as_a_good_adviser_would(year):
    year.on("2025-03-12").note("Ash", "alive, 5 seams, 2 kg of stores, lid dry")
    year.note("Elm", "alive, 5 seams, 9 kg of stores, lid dry")
    told = year.week()
    (feed,) = told["Ash"].names & FEEDS
    assert told["Ash"].due(feed) <= dt.date(2025, 3, 19), "fifteen days of food and eleven weeks to the flow"
    assert not told["Elm"].names & (FEEDS | OPENING), "nothing is wrong and it is too cold to look for more"

    year.on("2025-03-13").run("done", "Ash", "feed-candy", "kg=2.5")
    told = year.on("2025-03-14").week()
    assert not told["Ash"].names & (FEEDS | OPENING), "fed yesterday"

    year.on("2025-04-12").note("all", "QS, BIAS, 6 seams, 4 brood, no QC, 3 stores, brood clean, MG off, feeder empty")
    told = year.week()
    for name in ("Ash", "Elm"):
        assert "first-spring-inspection" not in told[name].names, "it was today"
        assert "remove-mouse-guard" not in told[name].names, "it is off"
        assert "count-mites" in told[name].names, "never counted"

    year.on("2025-05-10").note("Ash", "QS, BIAS, 9 seams, 7 brood, no QC, 3 stores")
    year.note("Elm", "eggs seen, 9 seams, 7 brood, charged QC, 3 stores")
    told = year.week()
    assert told["Ash"].names & {"add-super", "add-brood-box"}, "nine of ten seams full before the main flow"
    assert "split-colony" not in told["Ash"].names, "no queen cells, looked for today"
    assert told["Elm"].due("split-colony") <= dt.date(2025, 5, 14), "charged cells are capped within days"

    year.run("done", "Ash", "add-super", "supers=1")
    year.note("Ash", "QX in")
    year.on("2025-05-11").run("done", "Elm", "split-colony")
    told = year.on("2025-05-14").week()
    assert "add-super" not in told["Ash"].names and "split-colony" not in told["Elm"].names, "both are done"

    year.on("2025-06-10").note("all", "eggs seen, no QC, 9 seams")
    told = year.week()
    assert "add-super" in told["Elm"].names, "nine seams in one box in the main flow, and no super"

    year.on("2025-07-16").note("Ash", "took off 12 kg honey, supers off, QX off, wash 12 in 300, eggs seen, 9 seams")
    year.note("Elm", "wash 2 in 300, eggs seen, 8 seams, no supers")
    told = year.week()
    assert told["Ash"].due("treat-mites") <= dt.date(2025, 7, 30), "four in a hundred in July"
    assert not told["Elm"].names & {"treat-mites", "count-mites"}, "two in three hundred, counted today"
    assert "heft-hive" in told["Elm"].names, "the honey is off and nobody has hefted"


def test_the_second_half_follows_the_courses(year):
    year.on("2025-07-16").note("all", "eggs seen, 9 seams, 7 brood, no supers, 6 kg of stores, MG off")
    year.note("Ash", "wash 12 in 300")
    year.note("Elm", "wash 2 in 300")
    assert "which active ingredient" in year.on("2025-07-20").run("note", "Ash", "treated", code=1)
    year.run("done", "Ash", "treat-mites", "active=amitraz", "form=strip", "pieces=2")
    told = year.on("2025-07-25").week()
    (course,) = told["Ash"].hive["courses"]
    assert (course["day"], course["out_from"], course["out_by"]) == (5, "2025-08-31", "2025-09-14"), "42 to 56 days"
    assert "treat-mites" not in told["Ash"].names and "remove-treatment" not in told["Ash"].names
    card = year.run("week", "--hive", "Ash", "--offline").partition("Hive Ash\n")[2]
    assert "in since 20 July" in card.splitlines()[0] and "day 5" in card.splitlines()[0]

    year.on("2025-08-10").note("Ash", "8 seams, eggs seen, 6 kg of stores")
    year.note("Elm", "wash 12 in 300, 8 seams, eggs seen, 6 kg of stores")
    told = year.week()
    assert told["Elm"].due("treat-mites") <= dt.date(2025, 8, 24) and "treat-mites" not in told["Ash"].names
    assert all("feed-thick-syrup" in one.names | one.waits for one in told.values()), "six kilograms for the winter"
    first = told["Elm"].due("treat-mites")
    year.run("later", "Ash", "feed-thick-syrup", "--until", "2025-08-15")
    told = year.on("2025-08-11").week()
    assert "feed-thick-syrup" not in told["Ash"].names and told["Ash"].away["feed-thick-syrup"] == "2025-08-15"
    told = year.on("2025-08-24").week()
    assert told["Elm"].due("treat-mites") == first, "a deadline does not slide with the day of asking"
    year.on("2025-08-25").run("done", "Elm", "treat-mites", "active=amitraz", "form=strip", "pieces=2")
    year.on("2025-08-26").run("done", "all", "feed-thick-syrup", "litres=10")
    year.on("2025-09-02").run("done", "all", "feed-thick-syrup", "litres=10")

    told = year.on("2025-09-07").week()
    assert dt.date(2025, 9, 7) <= told["Ash"].due("remove-treatment") <= dt.date(2025, 9, 14)
    assert "remove-treatment" not in told["Elm"].names, "in for thirteen days"
    year.on("2025-09-08").run("done", "Ash", "remove-treatment")
    told = year.on("2025-09-20").week()
    assert "remove-treatment" not in told["Ash"].names and not told["Ash"].hive["courses"]
    assert "check-treatment-worked" in told["Ash"].names, "count again one to two weeks after"
    assert all("fit-mouse-guard" in one.names for one in told.values())

    year.on("2025-10-04").note("all", "8 seams, MG on, gross 34 kg, feeder off")
    told = year.week()
    assert not any("fit-mouse-guard" in one.names for one in told.values()), "they are on"
    assert "remove-treatment" not in told["Elm"].names, "day 40 of 42 to 56"
    assert year.on("2025-10-10").week()["Elm"].due("remove-treatment") <= dt.date(2025, 10, 20), "by day 56"
    year.on("2025-10-12").run("done", "Elm", "remove-treatment")

    told = year.on("2025-12-20").week()
    for name in ("Ash", "Elm"):
        assert not told[name].names & OPENING, "mid-winter"

    year.on("2026-02-10").note("Elm", "dead out")
    for day in ("2026-02-12", "2026-03-12"):
        told = year.on(day).week()
        assert "clear-dead-colony" in told["Elm"].names, f"dead on {day} too"
        assert not told["Elm"].names & (FEEDS | OPENING | {"heft-hive", "treat-mites"}), "the dead need neither"
        assert "clear-dead-colony" not in told["Ash"].names
    year.note("Ash", "dead out")
    assert "clear-dead-colony" in year.week()["Ash"].names
    year.run("undo")
    assert "clear-dead-colony" not in year.week()["Ash"].names, "it was the wrong hive, and is taken back"
