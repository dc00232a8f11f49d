"""The week on a terminal: the sheet, a line a hive; then, where asked for, the card of a hive or of all."""

from __future__ import annotations

from hiveweek.plan import rounds
from hiveweek.plan.model import Advice, HivePlan, WeekPlan
from hiveweek.plan.why import origin_words
from hiveweek.show import cards, round_text, sheet_text
from hiveweek.show import sheet as sheets
from hiveweek.show.cards import Common, day, name
from hiveweek.show.text import Page
from hiveweek.texts.parts import Phrase, Sentence, listed, message


def show(page: Page, plan: WeekPlan, vocabulary, *, alone: bool = True) -> None:
    """Print the sheet of a plan; of one hive alone its card.

    Parameters
    ----------
    page : Page
        Where to.
    plan : WeekPlan
    vocabulary : Vocabulary
        For the words of actions and facts.
    alone : bool
        It is the only sheet of its page: its foot follows, see `foot`.
    """
    if alone and len(plan.hives) == 1:
        show_cards(page, plan, vocabulary, only=plan.hives[0].id)
        return
    sheet = sheets.of(plan, vocabulary)
    _sheet(page, plan, vocabulary, sheet)
    if alone:
        page.line()
        foot(page, look=any(line.look for line in sheet.lines))


def foot(page: Page, *, look: bool = True) -> None:
    """Print what the marks of a sheet mean, how to ask for more, and that labels and law win."""
    for text in sheet_text.notes(look=look):
        page.say(text, style="dim")
    page.say(message("week.label-wins"), style="dim")


def _sheet(page: Page, plan: WeekPlan, vocabulary, sheet: sheets.Sheet) -> None:
    page.say(sheet_text.title(sheet), style="bold")
    _about(page, plan, vocabulary, Common(plan, vocabulary))
    page.line()
    sheet_text.show(page, sheet, plan)
    if plan.bring:
        page.say(cards.brought(plan), hang=2)


def show_cards(page: Page, plan: WeekPlan, vocabulary, *, only: str | None = None, with_facts: bool = False) -> None:
    """Print the card of a hive, or of all, the most urgent first.

    Parameters
    ----------
    page, plan, vocabulary
        As for the sheet.
    only : str, optional
        Id of the one hive to show; without it the sheet stands above the cards.
    with_facts : bool
        Also print what is known of each hive and what is not.
    """
    common = Common(plan, vocabulary)
    sheet = sheets.of(plan, vocabulary)
    if only:
        page.say(cards.title(plan), style="bold")
        _about(page, plan, vocabulary, common)
        page.line()
    else:
        _sheet(page, plan, vocabulary, sheet)
        page.line()
    yard = [] if only else plan.yard
    _yard(page, yard, plan, vocabulary, common)
    shown_once = {advice.action for advice, _ in yard}
    place = {line.hive: number for number, line in enumerate(sheet.lines)}
    asked_above = {hive for shared in sheet.law for hive in shared.hives}
    for hive in sorted(plan.hives, key=lambda one: (one.id not in asked_above, place[one.id])):
        if only is None or hive.id == only:
            _hive(page, hive, plan, vocabulary, shown_once, common)
            if with_facts:
                _facts(page, hive, vocabulary)
    if not only:
        round_text.show(page, rounds.plan_round([rounds.work(plan, vocabulary)], vocabulary), vocabulary)
    page.say(message("week.label-wins"), style="dim")


def _about(page: Page, plan: WeekPlan, vocabulary, common: Common) -> None:
    for line in cards.about(plan):
        page.say(line, indent=2, hang=2)
    dry = 0 if plan.weather.get("rain_all_week") is True else plan.weather.get("dry_days")
    if plan.best_day and dry != 0:
        page.say(cards.best_day(plan), indent=2, hang=2)
    if isinstance(dry, (int, float)) and dry <= plan.screen.few_dry_days:
        _rain(page, plan, vocabulary, int(dry))
    for note in cards.notes(plan):
        page.say(Sentence(note), indent=2, hang=2)
    for note in plan.notes:
        page.say(message("week.note", note=Sentence(note)), indent=2, hang=2)
    for text in common.said():
        page.say(text, indent=2, hang=2)


def _rain(page: Page, plan: WeekPlan, vocabulary, dry: int) -> None:
    outside, opening = dry_hour(plan, vocabulary)
    page.say(message("rain.every-day") if dry == 0 else message("rain.days", n=7 - dry), indent=2, hang=2)
    urgent = [_job_at(vocabulary, a.action, hive) for hive in plan.hives for a in hive.advice if a.rain_too]
    for key, jobs in (("rain.outside", outside), ("rain.dry-hour", opening), ("rain.hunger", urgent)):
        if jobs:
            page.say(message(key, jobs=listed(jobs)), indent=4, hang=2)
    last = plan.weather.get("last_good_day")
    line = message("rain.last-day", day=day(last, plan.date)) if last else message("rain.no-day")
    page.say(line, indent=4, hang=2)


def _job_at(vocabulary, action: str, hive: HivePlan) -> Phrase:
    return message("job-at", label=name(vocabulary, action), hive=hive.id)


def dry_hour(plan: WeekPlan, vocabulary, most: int = 3) -> tuple[list[Phrase], list[Phrase]]:
    """Return (what can be done in the rain, what one dry hour is for), best first.

    The hour goes to feeding where food is due; without that to other jobs, and to counts and boxes only where nothing else
    asks for it.
    """
    outside: list[tuple] = []
    feeding: list[tuple] = []
    jobs: list[tuple] = []
    others: list[tuple] = []
    for hive in plan.hives:
        for advice in hive.advice:
            body = vocabulary.actions[advice.action]
            if body.leaves_closed:
                continue
            target = others
            if body.opens == "nothing":
                target = outside
            elif body.dry_hour == "first":
                target = feeding
            elif advice.origin != "look" and body.dry_hour != "last":
                target = jobs
            target.append((advice.key(hive.id), _job_at(vocabulary, advice.action, hive)))

    def best(pairs: list[tuple]) -> list[Phrase]:
        ordered = sorted(pairs, key=lambda pair: (pair[0], str(pair[1])))
        return list(dict.fromkeys(words for _, words in ordered))[:most]

    return best(outside), best(feeding or jobs or others)


def _yard(page: Page, yard: list, plan: WeekPlan, vocabulary, common: Common) -> None:
    if not yard:
        return
    page.say(message("yard.head"), style="bold")
    for advice, ids in yard:
        page.say(cards.job(vocabulary, advice, plan), indent=2, hang=3, style="bold")
        _reasons(page, advice, vocabulary, plan, 5, common, ids[0])
        if len(ids) != len(plan.hives):
            page.say(message("yard.asked-at", hives=listed(ids, "comma")), indent=5, hang=2)
    page.line()


def _reasons(page: Page, advice: Advice, vocabulary, plan: WeekPlan, indent: int, common: Common, hive: str) -> None:
    follows = cards.follows(vocabulary, advice, plan)
    if follows:
        page.say(follows, indent=indent, hang=2)
    page.say(message("because", because=Sentence(advice.because)), indent=indent, hang=2)
    if advice.partner:
        page.say(message("with-hive", hive=advice.partner), indent=indent, hang=2)
    needs = cards.needs(common.left(advice))
    if needs:
        page.say(needs, indent=indent, hang=2)
    for line, details in cards.option_lines(advice.options, common.told, message("hive", hive=hive)):
        page.say(line, indent=indent, hang=2)
        for detail in details:
            page.say(detail, indent=indent + 4, hang=2, style="dim")
    warning = advice.warning(common.checks)
    if warning:
        page.say(message("take-care", care=Sentence(warning)), indent=indent, hang=2)
    rests = cards.rests_on(advice, vocabulary, plan)
    if rests:
        page.say(rests, indent=indent, hang=2, style="dim")
    looked_for = cards.looked_for(advice, vocabulary, 4)
    if looked_for:
        page.say(looked_for, indent=indent, hang=2)
    if advice.unverified:
        page.say(message("unverified"), indent=indent, hang=2)


def _hive(page: Page, hive: HivePlan, plan: WeekPlan, vocabulary, shown_once: set[str], common: Common) -> None:
    page.say(message("hive.head-dead" if hive.alive is False else "hive.head", hive=hive.id), style="bold")
    for line in cards.course_lines(hive, plan):
        page.say(line, indent=2, hang=2)
    _beside(page, hive, plan, common)
    jobs = [a for a in hive.advice if a.action not in shown_once]
    most = int(plan.screen.jobs)
    for number, advice in enumerate(jobs[:most], 1):
        page.say(message("hive.job", n=number, job=cards.job(vocabulary, advice, plan)), indent=2, hang=3, style="bold")
        _reasons(page, advice, vocabulary, plan, 5, common, hive.id)
    for line in cards.rest(vocabulary, jobs[most:], plan):
        page.say(line, indent=2, hang=2)
    if len(jobs) < len(hive.advice):
        names = [name(vocabulary, a.action) for a in hive.advice if a.action in shown_once]
        page.say(message("hive.yard", jobs=listed(names)), indent=2, hang=2)
    looks = cards.looks(hive, plan)
    if looks:
        page.say(message("hive.looks"), indent=2)
        for look in looks:
            line = message("hive.look", label=name(vocabulary, look.action), how=Sentence(look.how))
            page.say(listed([line, cards.noted(look)], "space"), indent=4, hang=2)
    for held in hive.withheld:
        page.say(cards.held(vocabulary, held), indent=2, hang=2)
    for one in hive.put_away:
        page.say(cards.put_away(vocabulary, one, plan), indent=2, hang=2)
    said = cards.noted_values(hive)
    if said:
        page.say(said, indent=2, hang=2)
    if hive.nothing_due:
        page.say(Sentence(hive.nothing_due["because"]), indent=2, hang=2)
        coming = cards.coming(hive.nothing_due, plan)
        if coming:
            page.say(coming, indent=2, hang=2)
    page.line()


def _beside(page: Page, hive: HivePlan, plan: WeekPlan, common: Common) -> None:
    """Print what to know while a course runs; what was said at another hive is referred to."""
    told = cards.beside(hive, plan)
    if not told:
        return
    key = tuple(course.course.id for course in hive.courses if course.course)
    where = common.told.setdefault(key, message("hive", hive=hive.id))
    again = where != message("hive", hive=hive.id)
    line = message("lies.beside-as", where=where) if again else message("lies.beside-line", said=listed(told, "space"))
    page.say(line, indent=2, hang=2, style="dim")


def _facts(page: Page, hive: HivePlan, vocabulary) -> None:
    page.say(message("hive.facts", hive=hive.id), style="bold")
    for fact_id, known in hive.facts.items():
        value = cards.shown_value(vocabulary.facts[fact_id], known["value"], known["low"], known["high"])
        line = message("hive.fact", fact=fact_id, value=value, origin=origin_words(known["origin"]))
        page.say(line, indent=2, hang=4)
    if hive.unknown:
        page.say(message("hive.unknown", facts=listed(hive.unknown, "comma")), indent=2, hang=4)
    page.line()
