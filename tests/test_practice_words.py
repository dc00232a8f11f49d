"""Practice: jobs read in words, and words told to beginners."""

import io

import pytest

from hiveweek import vocabulary
from hiveweek.practice import jobs, lessons
from hiveweek.practice.sitting import Sitting
from hiveweek.problems import InputProblems
from hiveweek.show import practice as as_text
from hiveweek.show.practice_words import IDS, word, words_in
from hiveweek.show.text import Page

WORDS = vocabulary.load()


@pytest.fixture(scope="module")
def every():
    return lessons.load(WORDS)


# --- jobs in words
def test_jobs_are_read_by_number_name_and_words():
    listed = ["feed-candy", "leave-closed"]
    assert jobs.read("2, 1", listed, WORDS) == ["leave-closed", "feed-candy"]
    assert jobs.read("feed-candy; Heft the hive,heft-hive", listed, WORDS) == ["feed-candy", "heft-hive"]
    assert jobs.read("candy, treat mites", [], WORDS) == ["feed-candy", "treat-mites"]
    assert jobs.read("", listed, WORDS) == []


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("3", "unknown-number"),
        ("syrup", "which-job"),
        ("sing to them", "unknown-job"),
        ("open the hive", "unknown-job"),
        ("0", "unknown-number"),
    ],
)
def test_what_is_no_job_is_told(text, code):
    with pytest.raises(InputProblems) as error:
        jobs.read(f"1, {text}", ["feed-candy", "leave-closed"], WORDS)
    assert [one.code for one in error.value.problems] == [code]


# --- words
def test_a_treatment_of_the_answer_says_what_may_go_in_now(every):
    sitting = Sitting(lessons.by_id(every, "formic-in-a-heat-wave"), WORDS)
    first = sitting.plan.advice[0]
    said = [str(line) for line in as_text.reasons(first)]
    assert first.action == "treat-mites"
    assert any(line.startswith("Not now: ") and "formic" in line for line in said)
    assert any(line.startswith("What may be used here now: ") and "formic" not in line for line in said)


def test_words_that_an_answer_uses_and_nobody_explained_are_told_beside_it():
    found = [str(one) for one in words_in(["Forage ends; the flows are over.", "Larvae"], ["A flow is much nectar."])]
    assert [one.split(":")[0] for one in found] == ["forage", "larva"]
    assert (
        len({str(word(one.replace("-", " "))) for one in IDS}) == len(IDS)
        and word("sing") is None
        and word("larvae") == word("larva")
    )


@pytest.mark.parametrize("one", ["hop acids", "pyrethroid", "dribble", "vapour", "evaporator", "pads", "gel", "wafer"])
def test_names_of_treatments_are_told_where_they_are_asked_for(one):
    assert word(one) is not None


def test_a_job_is_told_by_what_is_done_and_a_look_by_what_it_tells():
    told = [one.does for one in WORDS.actions.values() if one.does]
    assert len(told) == len(set(told)) > 50 and all(len(one) <= 120 and one.endswith(".") for one in told)
    out = io.StringIO()
    page = Page(out, width=200)
    for job in ("send-sample", "lid-check"):
        as_text.explained(page, job, WORDS)
    sample, lid = " ".join(out.getvalue().split()).split(" Quick look", 1)
    assert f"from outside): {WORDS.actions['send-sample'].does} {WORDS.actions['send-sample'].safety}" in sample
    assert "the lid comes off): It tells " in lid
