"""A small overlay of one moved limit and one rule, and its cases, as an author would have them side by side."""

OVERLAY = """overlay: valley
layer: author
for: [cool_maritime]
version: {version}
override:
  - {{limit: limit.harvest.late_weeks, value: {weeks}, was: 6, source: common-practice, status: practice, reason: "The heather flows late here."}}
{off}add:
  reason: "Hives come home from the heather with worn bees."
  limits:
    frames: {{value: {frames}, unit: frames, source: common-practice, status: practice, note: "Of bees."}}
  rules:
    - id: valley.look
      when:
        all: [colony.frames_of_bees > limit.valley.frames{more}]
      advise: check-entrance
      by: 14 d
      stakes: {{loses: colony, gain_pts: 3, source: judgement, note: "Judged here."}}
      because: "{because}"
      safety: "Stand to the side of the flight path."
      source: common-practice
      evidence: practice
"""
MANY = """cases:
  - scenario: many bees and few
    rule: valley.look
    climate: cool_maritime
    date: 2027-05-20
    rulesets: [valley.yaml]
    hives:
      - {id: A, facts: {colony.frames_of_bees: 9}, expect: {fires: [valley.look]}}
"""
FEW = "      - {id: B, facts: {colony.frames_of_bees: 2}, expect: {not_fires: [valley.look]}}\n"
FIRST = {"version": 1, "weeks": 4, "off": "", "frames": 4, "more": "", "because": "There are many bees in this hive."}


def write(folder, parts, cases=MANY + FEW):
    """Write the overlay and its cases into a folder; return the path of the overlay."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "valley.yaml").write_text(OVERLAY.format(**parts))
    if cases:
        (folder / "valley.cases.yaml").write_text(cases)
    return str(folder / "valley.yaml")
