"""Laws of what keepers answer to advice, on made-up rules: nothing vanishes, law and people stand, the grave comes back."""

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_kit import TODAY, Book, act, weights, words

from hiveweek.numbers import shipped
from hiveweek.plan.model import Advice, Evidence, PutAway
from hiveweek.plan.put_away import Answers, ends_on
from hiveweek.record import Answer, Entry, Kind
from hiveweek.record.answered import Given, given_at
from hiveweek.record.record import Hive, Placement, Record
from hiveweek.show import json as as_json

NUMBERS = shipped().branch("plan")
ACTIONS = ("feed-candy", "control-hive-beetle", "clean-floor", "reverse-boxes", "update-records")
KNOWN = {"Ash": {"colony.alive": True, "weather.open_high_c": 20.0}}


def day(back):
    return TODAY - dt.timedelta(days=back)


def entry(kind, action, back, **more):
    return Entry(f"{kind}{action}{back}", kind, "yard", "ash", day(back), action=action, **more)


asked = st.fixed_dictionaries(
    {
        "gain": st.sampled_from([2.0, 9.9, 10.0, 35.0]),
        "band": st.sampled_from([0, 1]),
        "loses": st.sampled_from(["colony", "crop"]),
        "grave": st.booleans(),
        "by": st.none() | st.integers(0, 40),
    }
)
answered = st.fixed_dictionaries(
    {
        "answer": st.sampled_from(list(Answer)),
        "back": st.integers(0, 60),
        "until": st.none() | st.integers(-30, 90),
        "then": st.none() | st.tuples(st.sampled_from([0, 1]), st.none() | st.integers(-20, 60)),
    }
)
done = st.fixed_dictionaries({"back": st.integers(0, 60), "seen": st.booleans()})


def given_of(answer, job):
    told = Given()
    if job is not None:
        told.done = entry(Kind.DONE, "", job["back"])
        told.seen = {"colony.alive"} if job["seen"] else set()
    if answer is not None:
        band, due = answer["then"] or (None, None)
        details = {} if band is None else {"band": band}
        if due is not None:
            details["due_by"] = TODAY + dt.timedelta(days=due)
        until = None if answer["until"] is None else TODAY + dt.timedelta(days=answer["until"])
        told.answer = entry(
            Kind.ANSWERED, "", answer["back"], answer=answer["answer"], until=until, details=details, reason="so"
        )
    return told


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(st.sampled_from(ACTIONS), st.tuples(asked, st.none() | answered, st.none() | done), min_size=1))
def test_answers_put_away_what_they_may_and_no_more(cases):
    book = Book()
    for action, (rule, _, _) in cases.items():
        book.rule(f"t.{action}", "colony.alive", action, **{k: v for k, v in rule.items() if k != "grave"})
    grave = [action for action, (rule, _, _) in cases.items() if rule["grave"]]
    if grave:
        book.trouble("grave", "colony.alive", grave)
    given_here = {action: given_of(answer, job) for action, (_, answer, job) in cases.items() if answer or job}
    (hive,) = book.plan(KNOWN, answered=[given_here]).hives
    away = {one.action: one for one in hive.put_away}
    listed = {advice.action for advice in hive.advice}
    for action, (rule, answer, job) in cases.items():
        # Nothing vanishes, and nothing is said twice.
        assert (action in listed) + (action in away) + any(w.action == action for w in hive.withheld) == 1, action
        one = away.get(action)
        if one is None:
            continue
        assert one.until is None or one.until > TODAY
        if one.done:
            quiet = dt.timedelta(days=words().effects[action].quiet_for)
            assert job is not None and not job["seen"] and one.until == day(job["back"]) + quiet
            continue
        assert answer is not None and rule["band"] > 0
        serious = rule["grave"]
        due = None if rule["by"] is None else TODAY + dt.timedelta(days=rule["by"])
        band, told = answer["then"] or (None, None)
        told = None if told is None else TODAY + dt.timedelta(days=told)
        assert not (told and due and due < told), "an earlier deadline ends the answer"
        assert not (band is not None and told is None and due), "a new deadline ends the answer"
        last = told or due
        if serious:
            assert one.until is not None and one.until <= day(answer["back"]) + dt.timedelta(
                days=NUMBERS.answers.again_days
            )
        if last is not None and (serious or answer["answer"] is Answer.LATER):
            assert one.until is not None and one.until <= last
        if answer["answer"] is Answer.LATER:
            assert one.until is not None
    if not listed:
        assert hive.nothing_due is not None
        if away and not hive.withheld:
            assert "has its answer" in str(hive.nothing_due["because"])


@given(st.integers(0, 400), st.none() | st.integers(1, 400), st.booleans(), st.booleans())
def test_skipped_trifles_have_no_end_and_the_grave_have_one(back, due, serious, look):
    by = None if due is None else day(back) + dt.timedelta(days=due)
    found = ends_on(Answer.NOT_HERE, day(back), None, by, NUMBERS, serious=serious, look=look)
    assert (found is None) == (not serious and not look)


@pytest.mark.parametrize(
    ("answer", "until", "due", "serious", "look", "ends"),
    [
        (Answer.LATER, None, None, False, False, NUMBERS.answers.later_days),
        (Answer.LATER, 5, None, False, False, 5),
        (Answer.LATER, 5, 3, False, False, 3),
        (Answer.LATER, 90, None, True, False, NUMBERS.answers.again_days),
        (Answer.NOT_HERE, None, 3, False, False, None),
        (Answer.NOT_HERE, None, 3, True, False, 3),
        (Answer.NOT_HERE, None, None, True, False, NUMBERS.answers.again_days),
        (Answer.NOT_HERE, None, 3, False, True, NUMBERS.answers.again_days),
    ],
)
def test_when_what_was_put_away_is_asked_again(answer, until, due, serious, look, ends):
    until, due, ends = (None if n is None else TODAY + dt.timedelta(days=n) for n in (until, due, ends))
    assert ends_on(answer, TODAY, until, due, NUMBERS, serious=serious, look=look) == ends


def answers(action, given, grave=()):
    return Answers([{action: given}], words(), NUMBERS, TODAY, lambda _: grave)


def test_what_is_put_away_keeps_how_it_stood():
    due = day(-9)
    told = Given(
        answer=entry(Kind.ANSWERED, "feed-candy", 1, answer=Answer.NOT_HERE, details={"band": 1, "due_by": due})
    )
    advice = Advice("feed-candy", "f.candy", gain_pts=2.0, by=due, due_by=due)
    found = answers("feed-candy", told).to(0, advice)
    assert found == PutAway("feed-candy", "f.candy", None, found.reason, 1, due)
    assert str(found.reason) == "You put it off on 9 March."
    grave = answers("feed-candy", told, ("feed-candy",)).to(0, Advice("feed-candy", "f.candy", due_by=due))
    assert (grave.serious, grave.until, grave.look) == (
        True,
        min(due, day(1) + dt.timedelta(days=NUMBERS.answers.again_days)),
        False,
    )
    # another rule now asks for it earlier, though the one that counts for most has no deadline
    assert answers("feed-candy", told).to(0, Advice("feed-candy", "f.candy", gain_pts=2.0, due_by=day(-3))) is None
    job = Given(done=entry(Kind.DONE, "feed-candy", 1))
    quiet = day(1) + dt.timedelta(days=words().effects["feed-candy"].quiet_for)
    found = answers("feed-candy", job).to(0, advice)
    assert (found.until, found.done, str(found.reason)) == (quiet, True, "Done on 9 March.")


def test_a_look_is_put_away_until_something_it_tells_was_seen():
    looks = weights().looks
    for seen, away in ((set(), ["count-mites"]), ({"food.heft"}, ["count-mites"]), ({"mites.sample_mites"}, [])):
        told = Given(done=entry(Kind.DONE, "count-mites", 1), seen=seen)
        assert [one.action for one in answers("count-mites", told).looks(0, looks)] == away
    put_off = Given(answer=entry(Kind.ANSWERED, "count-mites", 1, answer=Answer.NOT_HERE, reason="so"))
    (one,) = answers("count-mites", put_off).looks(0, looks)
    assert (one.look, one.until, one.reason) == (True, day(1) + dt.timedelta(days=NUMBERS.answers.again_days), "so")


def test_what_a_look_that_was_done_tells_is_not_looked_for_in_another_way():
    """The keeper lifted the hive and noted no weight: the next day does not send for the scale."""
    book = Book()
    book.rule("f.light", "food.heft == light", "feed-candy", gain=40.0, by=3)
    facts = {"Ash": {"colony.alive": True, "weather.open_high_c": 12.0}}
    (asked,) = book.plan(facts).hives
    (lifted,) = book.plan(facts, answered=[{"heft-hive": Given(done=entry(Kind.DONE, "heft-hive", 1))}]).hives
    assert "heft-hive" in {one.action for one in (*asked.advice, *asked.look_first)}
    assert not {"heft-hive", "weigh-hive"} & {one.action for one in (*lifted.advice, *lifted.look_first)}


def test_what_was_said_not_to_fit_is_asked_again_once_its_grounds_were_seen_anew():
    advice = Advice("feed-candy", "f.candy", evidence=[Evidence("food.days_left", 9.0, None, None, "worked out")])
    told = entry(Kind.ANSWERED, "feed-candy", 1, answer=Answer.NOT_HERE, reason="so")
    for news, grave, away in (
        (set(), ("feed-candy",), True),
        ({"colony.temper"}, ("feed-candy",), True),
        ({"food.stores_kg"}, ("feed-candy",), False),
        ({"food.stores_kg"}, (), True),
    ):
        found = answers("feed-candy", Given(answer=told, news=news), grave).to(0, advice)
        assert (found is not None) == away
    later = Given(answer=entry(Kind.ANSWERED, "feed-candy", 1, answer=Answer.LATER), news={"food.stores_kg"})
    assert answers("feed-candy", later, ("feed-candy",)).to(0, advice) is not None


def test_a_look_that_was_put_away_is_not_named_for_what_it_would_tell():
    book = Book()
    book.rule("d.lid", "moisture.lid == dripping", "dry-the-lid", gain=60, by=0)
    assert [a.action for a in book.plan(KNOWN).hives[0].advice] == ["lid-check"]
    told = {"lid-check": Given(answer=entry(Kind.ANSWERED, "lid-check", 1, answer=Answer.LATER))}
    hive = book.plan(KNOWN, answered=[told]).hives[0]
    assert "lid-check" not in [a.action for a in hive.advice] + [k.action for k in hive.look_first]
    assert [one.action for one in hive.put_away] == ["lid-check"]


def test_without_answers_the_plan_is_the_same():
    book = Book()
    book.rule("t.a", "colony.alive", "feed-candy", by=3)
    assert book.plan(KNOWN) == book.plan(KNOWN, answered=[{}])


def test_what_stands_in_for_a_forbidden_job_is_put_away_too():
    book = Book()
    book.rule("t.a", "colony.alive", "feed-thick-syrup", gain=20.0)
    book.never("t.cold", [act("feed-thick-syrup")], "colony.alive", instead=("feed-candy",))
    assert [a.action for a in book.plan(KNOWN).hives[0].advice][:1] == ["feed-candy"]
    told = {"feed-candy": Given(answer=entry(Kind.ANSWERED, "", 1, answer=Answer.LATER, reason="so"))}
    (hive,) = book.plan(KNOWN, answered=[told]).hives
    assert "feed-candy" not in [a.action for a in hive.advice]
    assert [(one.action, one.until) for one in hive.put_away] == [("feed-candy", day(1) + dt.timedelta(days=7))]


def test_a_lower_band_ends_an_answer():
    told = {"update-records": Given(answer=entry(Kind.ANSWERED, "", 1, answer=Answer.LATER, details={"band": 1}))}
    for band, stands in ((0, True), (1, False)):
        book = Book()
        book.rule("t.a", "colony.alive", "update-records", band=band)
        (hive,) = book.plan(KNOWN, answered=[told]).hives
        assert ("update-records" in [a.action for a in hive.advice]) is stands


HIVES = {key: Hive(key, key, (Placement("yard", dt.date(2020, 1, 1)),)) for key in ("ash", "elm")}


def record(*entries):
    return Record(hives=dict(HIVES), entries=list(entries))


@pytest.mark.parametrize(("back", "counts"), [(3, True), (-3, False)])
def test_only_what_was_answered_by_then_counts(back, counts):
    kept = record(entry(Kind.ANSWERED, "feed-candy", back, answer=Answer.LATER))
    (ash, elm) = given_at(kept, ["ash", "elm"], TODAY, words())
    assert ("feed-candy" in ash) is counts and elm == {}


def test_a_job_of_two_hives_is_done_at_both():
    kept = record(entry(Kind.DONE, "unite-colonies", 3, details={"partner": "elm"}))
    (ash, elm) = given_at(kept, ["ash", "elm"], TODAY, words())
    assert ash["unite-colonies"].done == elm["unite-colonies"].done is not None
    kept = record(entry(Kind.DONE, "give-brood-frame", 3, details={"partner": "elm"}))
    assert given_at(kept, ["ash", "elm"], TODAY, words())[1] == {}


@given(st.lists(st.none() | st.integers(-400, 400), min_size=1, max_size=len(ACTIONS)))
def test_no_day_to_start_lies_before_the_answer(days):
    """The JSON gives the later of today and the deadline, and the deadline itself beside it."""
    book = Book()
    for action, by in zip(ACTIONS, days, strict=False):
        book.rule(f"t.{action}", "colony.alive", action, by=by)
    (hive,) = as_json.week(book.plan(KNOWN))["hives"]
    due = {
        action: None if by is None else TODAY + dt.timedelta(days=by) for action, by in zip(ACTIONS, days, strict=False)
    }
    for advice in hive["advice"]:
        day = due.get(advice["action"])
        assert advice["due_by"] == (day and day.isoformat())
        assert advice["by"] == (day and max(day, TODAY).isoformat())
        assert advice["overdue"] is (day is not None and day < TODAY)
