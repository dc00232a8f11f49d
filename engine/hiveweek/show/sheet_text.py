"""The sheet of a week on a terminal: columns where there is room for them, stacked lines where there is not."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len

from hiveweek.plan.model import WeekPlan
from hiveweek.show import cards
from hiveweek.show.round_text import kit_words
from hiveweek.show.sheet import Group, Job, Line, Shared, Sheet
from hiveweek.show.text import Page
from hiveweek.texts.parts import Day, NearDay, Phrase, Quantity, Text, listed, message

COLUMNS_FROM = 64  # narrower pages stack the cells
INDENT = 2
BY, GAP = 6, 2
MOST_HIVE = 16
DO_SHARE = 0.6  # of what the day and the hive leave
MOST_JOBS = 3


def show(page: Page, sheet: Sheet, plan: WeekPlan) -> None:
    """Print a sheet: what law asks, the table, the whole yard, what to take."""
    for text in above(sheet):
        page.say(text, style="bold", hang=2)
    if above(sheet):
        page.line()
    groups = sheet.folded(int(plan.screen.fold_from), int(plan.screen.alike))
    _table(page, groups, sheet)
    if sheet.lines:
        page.line()
    for shared in sheet.yard:
        page.say(whole(shared, sheet), hang=2)
    if sheet.kit:
        page.say(message("sheet.take", kit=kit(sheet)), hang=2)


def title(sheet: Sheet) -> Phrase:
    """Return whose sheet it is, of which week, and how many hives need something by when."""
    name = sheet.name or message("week.your-hives")
    today, week = sheet.due
    said: list[Phrase] = [Quantity(len(sheet.lines), "hives")]
    said += [message("sheet.due-today", n=today)] if today else []
    said += [message("sheet.due-week", n=week)] if week > today else []
    said += [] if week or sheet.law else [message("sheet.due-none")]
    return message("sheet.title", name=name, day=cards.day(sheet.date), hives=listed(said, "comma"))


def notes(*, look: bool) -> list[Phrase]:
    """Return what the marks of a sheet mean, that of a look where there is one, and how to ask for more."""
    marks = [message("sheet.walk")] + ([message("sheet.mark")] if look else [])
    return [listed(marks, "space"), message("sheet.card")]


def kit(sheet: Sheet) -> Phrase:
    """Return what to take along."""
    return kit_words(sheet.kit)


def above(sheet: Sheet) -> list[Phrase]:
    """Return what stands above the table: where the two ways of working it out differ, and what law or people ask."""
    doubted = [message("sheet.doubted", hives=listed(sheet.doubted, "comma"))] if sheet.doubted else []
    return doubted + [law(shared, sheet) for shared in sheet.law]


def law(shared: Shared, sheet: Sheet) -> Phrase:
    """Return what law or people ask in a sentence."""
    job = shared.job
    return message(
        "sheet.law", label=job.label, when=_when(job, sheet), hives=_hives(shared, sheet), because=job.because
    )


def whole(shared: Shared, sheet: Sheet) -> Phrase:
    """Return a job of the whole yard in a sentence."""
    job = shared.job
    because = listed(job.reasons, "comma")
    words = {"job": _with_amount(job), "when": _when(job, sheet), "hives": _hives(shared, sheet), "because": because}
    return message("sheet.whole", **words)


def _hives(shared: Shared, sheet: Sheet) -> Phrase:
    if len(shared.hives) == len(sheet.lines) > 1:
        return message("sheet.asks-all")
    return listed(shared.hives, "comma")


def _when(job: Job, sheet: Sheet) -> Phrase:
    if job.by is None:
        return Text()
    key = "when.late" if job.late else "when.today" if job.by == sheet.date else "sheet.when"
    return message(key, day=Day(job.by, sheet.date))


# --- the table ------------------------------------------------------------------------------------------------------------
def _table(page: Page, groups: tuple[Group, ...], sheet: Sheet) -> None:
    if not groups:
        return
    walk = len(str(len(sheet.lines)))
    single = [group.first.hive for group in groups if len(group.lines) == 1]
    head: list[Phrase] = [message(f"sheet.{key}") for key in ("by", "hive", "do", "because")]
    hive = min(max(cell_len(page.speaker.say(words)) for words in (head[1], *single)), MOST_HIVE)
    left = page.width - 1 - BY - hive - walk - 4 * GAP - INDENT
    do = round(left * DO_SHARE)
    widths = (BY, hive, walk, do, left - do)
    stacked = page.width < COLUMNS_FROM
    if not stacked and single:
        _row(page, (*head[:2], "", *head[2:]), widths, ["dim"] * 5)
    for group in groups:
        line = group.first
        if len(group.lines) > 1:
            _group(page, group, sheet)
        elif stacked:
            page.say(Text((by(line, sheet), "  ", f"{line.hive} ({line.walk})")), style="bold")
            page.say(do_words(line, sheet), INDENT)
            page.say(because(line, sheet), INDENT + 2, style="dim")
        else:
            walked = f"{line.walk:>{walk}}"
            cells = (by(line, sheet), line.hive, walked, do_words(line, sheet), because(line, sheet))
            _row(page, cells, widths, ["bold", "bold"])


def _row(page: Page, cells: Sequence[Phrase | str], widths: Sequence[int], styles: Sequence[str]) -> None:
    page.row([("", 0), *zip(cells, widths, strict=True)], ("", *styles), GAP)


def _group(page: Page, group: Group, sheet: Sheet) -> None:
    """Print hives of the same jobs together: the jobs, then the hives, each with its place on the walk."""
    line = group.first
    jobs = do_words(line, sheet, folded=not group.same)
    blank = all(one.blank for one in group.lines)
    if blank:
        jobs = message("sheet.first-look", jobs=jobs)
    words: Phrase = message("sheet.group", jobs=jobs, n=Quantity(len(group.lines), "hives"))
    widths = (BY, page.width - 1 - BY - GAP - INDENT)
    _row(page, (by(line, sheet), words), widths, ["bold", "bold"])
    _row(page, ("", listed([f"{one.hive} {one.walk}" for one in group.lines], "comma")), widths, [])
    if len({because(one, sheet) for one in group.lines}) == 1 and not blank:
        _row(page, ("", because(line, sheet)), widths, ["dim", "dim"])


def by(line: Line, sheet: Sheet) -> Phrase:
    """Return the day of a line for its column."""
    if line.late:
        return message("sheet.late")
    if line.by is None:
        return Text(("-",))
    return NearDay(line.by, sheet.date)


def do_words(line: Line, sheet: Sheet, *, folded: bool = False) -> Phrase:
    """Return what to do at a hive: its jobs in a row, the first in full, then what lies in it and how many jobs wait."""
    if not line.jobs:
        return _quiet(line, sheet, folded)
    said = [_job(job, first=number == 0, folded=folded) for number, job in enumerate(line.jobs[:MOST_JOBS])]
    more = len(line.jobs) - len(said)
    if more:
        said.append(message("sheet.more", n=more))
    if not folded:
        said += line.running
        said += [message("sheet.held", n=line.held)] if line.held else []
    words = listed(said, "semicolon" if not folded and line.running else "comma")
    return message("sheet.look", jobs=words) if line.look else words


def _quiet(line: Line, sheet: Sheet, folded: bool) -> Phrase:
    if line.above:
        law = any(line.hive in shared.hives for shared in sheet.law)
        return message("sheet.above" if law else "sheet.below")
    if folded or line.coming is None:
        words: Phrase = message("sheet.nothing")
    else:
        day, what = line.coming
        words = message("sheet.next", day=Day(day, sheet.date), what=what)
    return words if folded else listed([words, *line.running], "semicolon")


def _job(job: Job, *, first: bool, folded: bool) -> Phrase:
    told = job.waits or isinstance(job.amount, Quantity) or first
    words = _with_amount(job) if told and not folded else job.label
    if job.partner and not folded:
        words = message("sheet.with-other", job=words, hive=job.partner)
    return message("sheet.then", job=words) if job.then and not first else words


def _with_amount(job: Job) -> Phrase:
    if job.amount is None:
        return job.label
    return message("sheet.job", label=job.label, amount=job.amount)


def because(line: Line, sheet: Sheet) -> Phrase:
    """Return why, in a few words; since when where the day has gone by; when it was last looked at where nothing is due."""
    if not line.jobs:
        if line.dead:
            return message("sheet.dead")
        if line.looked is None:
            return message("sheet.never-looked")
        return message("sheet.looked", day=NearDay(line.looked, sheet.date))
    said = [message("sheet.blank")] if line.blank else list(line.reasons)
    late = [job for job in line.jobs if job.late]
    gone = [job.by for job in late if job.by is not None and job.by < sheet.date]
    since = [job.since for job in late if job.since is not None]
    if gone:
        said.insert(0, message("sheet.was-due", day=NearDay(min(gone), sheet.date)))
    elif since:
        said.insert(0, message("sheet.due-before", day=NearDay(min(since), sheet.date)))
    return listed(said, "comma")
