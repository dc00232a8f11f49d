"""What rule authors are told of slips that spreadsheets, editors and other languages bring, and of names that mean nothing."""

import io
import json
import re
import shutil

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_climate_normals import GOOD

from hiveweek import content
from hiveweek.authoring import impact
from hiveweek.cli.main import main
from hiveweek.climate import forecast, normals
from hiveweek.problems import InputProblems

OVERLAY = """overlay: mine
layer: author
for: [cool_maritime]
version: 1
override:
  - {limit: limit.harvest.late_weeks, value: "4,5", was: 6, source: common-practice, status: practice, reason: "Late heather."}
  - {limit: limit.swarm.look_days, value: \u201c8\u201d, was: 7, source: common-practice, status: practice, reason: "Cool evenings."}
disable:
  - {rule: no-frames-in-cold, reason: "Not here."}
  - {rule: limit.harvest.late_weeks, reason: "Not here."}
  - {rule: feed-candy, reason: "Not here."}
  - {rule: finding.long-job-closed, reason: "Not here."}
  - {rule: formic-pad, reason: "Not here."}
  - {rule: \u201charvest.supers-off-late\u201d, reason: "Not here."}
add:
  reason: "Hives on the heather."
  rules:
    - id: mine.look
      when:
        all:
          - harvest.honey_kind == \u201cheather\u201d
          - season.weeks_to_winter <= 2,5
          - season.weeks_to_winter \u2264 3
          - harvest.honey_kind = heather
      advise: full-inspection
      by: 14 d
      stakes: {loses: colony, gain_pts: 3, source: judgement, note: "Late."}
      because: "This hive stood on the heather."
      safety: "Ten minutes on a warm day."
      source: common-practice
      evidence: practice
"""


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    folder = tmp_path_factory.mktemp("mine")
    (folder / "mine.yaml").write_text(OVERLAY, encoding="utf-8")
    out = io.StringIO()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.stdout", out)
        code = main(["rules", "check", "--json", str(folder / "mine.yaml")])
    found = json.loads(out.getvalue())["findings"]
    return code, {row["line"]: row["message"] for row in found if row["file"].endswith("mine.yaml")}


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (6, "write 4.5"),
        (7, "write 8, without curly quotes"),
        (9, "cannot be switched off or changed"),
        (10, "a number cannot be switched off"),
        (11, "it is an action and cannot be switched off by itself; rules that give it: "),
        (12, "it is a finding and cannot be switched off by itself; rules that give it: "),
        (13, "it is a treatment and cannot be switched off"),
        (14, "curly quotes are letters here"),
        (21, "curly quotes are letters here"),
        (22, "write 2.5"),
        (23, "write <="),
        (24, "write =="),
    ],
)
def test_a_slip_is_told_with_what_to_write(told, line, said):
    code, messages = told
    assert code == 2 and said in messages[line]


def test_nothing_else_is_wrong_with_it(told):
    assert len(told[1]) == 12


NAMES = {
    "base/treatments.yaml": [r"(active: )formic$", r"(form: )wafer$", r"(evidence: )trial$"],
    "safety.yaml": [r"(uses: )smoke\b", r"(donor: )hive\b"],
    "ranking.yaml": [
        r"(count-mites: \[)few-to-sample",
        r"(  )standstill",
        r"(frames-stay-shut: )limit\.safety\.frames_c",
    ],
    "jurisdictions/england.yaml": [r"(active: )thymol", r"(forms: \[)gel"],
    "vocabulary/actions.yaml": [r"(where: \{hive\.type: \[)fixed_comb"],
    "vocabulary/areas.yaml": [r"(finding\.)[a-z-]+$"],
    "vocabulary/calendars.yaml": [r"(few: \{)heft-hive", r"(nucleus: )make-room"],
    "vocabulary/effects.yaml": [r"(form: )dribble"],
}


def test_a_misspelt_name_is_found_in_every_kind_of_file(tmp_path, capsys):
    folder = tmp_path / "rulesets"
    shutil.copytree(content.root() / "rulesets", folder)
    for name, patterns in NAMES.items():
        text = (folder / name).read_text(encoding="utf-8")
        for pattern in patterns:
            text, count = re.subn(pattern, r"\g<1>zz-no-such-word", text, count=1, flags=re.MULTILINE)
            assert count == 1, (name, pattern)
        (folder / name).write_text(text, encoding="utf-8")
    assert main(["rules", "check", "--json", str(folder)]) == 2
    found = json.loads(capsys.readouterr().out)["findings"]
    for name, patterns in NAMES.items():
        said = [row for row in found if row["file"].endswith(name) and "zz-no-such-word" in row["message"]]
        assert len(said) == len(patterns), (name, found)


def test_a_place_with_a_blank_in_its_name_is_a_good_address_in_sarif(tmp_path, capsys):
    path = tmp_path / "my valley" / "mine.yaml"
    path.parent.mkdir()
    path.write_text("overlay: mine\nlayer: author\nversion: x\n", encoding="utf-8")
    assert main(["rules", "check", "--sarif", str(path)]) == 2
    places = [
        row["locations"][0]["physicalLocation"] for row in json.loads(capsys.readouterr().out)["runs"][0]["results"]
    ]
    assert places and all("my%20valley/mine.yaml" in place["artifactLocation"]["uri"] for place in places)


@pytest.mark.parametrize("part", ["cases", "coverage"])
def test_a_folder_in_which_nothing_is_read_is_no_success(part, tmp_path, capsys):
    assert main(["rules", part, str(tmp_path)]) == 2
    assert "there is no .yaml file in this folder" in capsys.readouterr().err
    (tmp_path / "mine.cases.yml").write_text("cases: []\n", encoding="utf-8")
    assert main(["rules", part, str(tmp_path)]) == 2
    assert "mine.cases.yml:1:1: wrong-ending" in capsys.readouterr().err


DAYS = "date,tmin_c,tmax_c\n2027-03-01,2.5,9.5\n2027-03-02,3.5,10.5\n"
READERS = {"normals": (GOOD.replace("\n4,9,", "\n4,9.5,"), normals.read_csv), "days": (DAYS, forecast.read)}


def read(reader, path) -> list[str]:
    try:
        found = reader(path)
    except InputProblems as error:
        return [problem.message for problem in error.problems]
    return [problem.message for problem in found[1]] if isinstance(found, tuple) else []


@pytest.mark.parametrize("kind", READERS)
@pytest.mark.parametrize(
    ("made", "said"),
    [
        (lambda text: text.replace(",", ";").encode(), "the cells are parted by semicolons; commas are needed"),
        (lambda text: text.replace(",", ";").replace(".", ",").encode(), "parted by semicolons"),
        (lambda text: text.replace(",", "\t").encode(), "the cells are parted by tabs; commas are needed"),
        (lambda text: text.encode("utf-16"), "the file is UTF-16 text; save it as UTF-8"),
        (lambda text: text.encode("utf-16-le"), "the file is UTF-16 text; save it as UTF-8"),
        (lambda text: text.replace("9.5", "9,5").encode(), "a comma parts cells: write 1.5, not 1,5"),
        (lambda text: text.replace("9.5", '"9,5"').encode(), "write 9.5"),
        (lambda text: text.replace("9.5", "\u201c9.5\u201d").encode(), "without curly quotes"),
    ],
)
def test_a_table_that_a_spreadsheet_saved_otherwise(kind, made, said, tmp_path):
    text, reader = READERS[kind]
    path = tmp_path / "table.csv"
    path.write_text(text, encoding="utf-8")
    assert read(reader, path) == []
    path.write_bytes(made(text))
    assert any(said in message for message in read(reader, path)), read(reader, path)


WORDS = st.lists(
    st.sampled_from(["bees", "food", "count", "lift", "lid", "warm", "cold", "now", "later"]), max_size=14
).map(" ".join)


@given(WORDS, WORDS)
def test_both_texts_tell_the_difference(old, new):
    if old == new:
        return
    said = impact.both_texts(old, new)
    before, arrow, after = said.partition(" -> ")
    assert arrow and before != after
    for text, part in ((old, before), (new, after)):
        assert part.strip('"').removeprefix("... ").removesuffix(" ...") in (text or "nothing")


def test_a_long_text_is_shown_where_it_differs():
    old = "one two three four five six seven eight nine ten eleven twelve"
    said = impact.both_texts(old, old.replace("six", "6"))
    assert (
        said
        == '"... two three four five six seven eight nine ten ..." -> "... two three four five 6 seven eight nine ten ..."'
    )
    assert impact.both_texts("", "now") == 'nothing -> "now"'
