"""What every page needs at hand: the record, the answers, the words, who is there, and how a page is written."""

from __future__ import annotations

import datetime as dt
import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from functools import cached_property
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.datastructures import QueryParams
from starlette.responses import HTMLResponse, RedirectResponse, Response

from hiveweek import vocabulary
from hiveweek.facts.scenario import Scenario
from hiveweek.practice import lessons
from hiveweek.problems import InputProblems, Problem
from hiveweek.record import Apiary, Hive
from hiveweek.record.entries import new_id
from hiveweek.record.places import apiary_of
from hiveweek.record.store import Store
from hiveweek.serve.answers import Answers, Found
from hiveweek.serve.sessions import Role, Session, Sessions
from hiveweek.serve.settings import Settings
from hiveweek.texts.parts import Sentence, message
from hiveweek.texts.speaker import METRIC, Speaker

MOST_HELD = 20  # photos about which a question is open
MOST_NAME = 60  # letters of the name by which somebody is noted
_JOINERS = "\n\u200c\u200d"  # line ends, and what joins letters of some scripts
STATIC = {"page.css": "text/css", "page.js": "text/javascript"}


def plain(text: str) -> str:
    """Return a text without control characters and marks that turn its direction."""
    if text.isprintable():
        return text
    return "".join(one if one.isprintable() or one in _JOINERS else " " for one in text.replace("\r\n", "\n"))


def name_of(said: str) -> str:
    """Return the name of a person as it is kept."""
    return " ".join(plain(said)[:MOST_NAME].split())


def _shown(value: Any) -> Any:
    """Return what a page shows of a value: of a text that is none of the page's own only what can be read."""
    return plain(value) if isinstance(value, str) and not isinstance(value, Markup) else value


class Desk:
    """Shared by all requests.

    Parameters
    ----------
    settings : Settings
    secret : str
        Signs sessions.
    speaker : Speaker
    """

    def __init__(self, settings: Settings, secret: str, speaker: Speaker = METRIC):
        self.settings, self.speaker = settings, speaker
        self.answers = Answers(settings)
        self.written_by: dict[str, str] = {}  # note to the session in which it was written, since the page is served
        self._held: OrderedDict[str, bytes] = OrderedDict()
        self.writing = threading.Lock()  # the record takes one writer at a time; here they wait in a row
        self.sessions = Sessions(secret, secure=settings.secure, port=settings.hosts[0].rpartition(":")[2])
        self.static = {name: (files("hiveweek.serve") / "static" / name).read_bytes() for name in STATIC}

    def hold(self, name: str, photo: bytes) -> None:
        """Hold a photo while a question about it is open; the oldest go where there are too many."""
        self._held[name] = photo
        while len(self._held) > MOST_HELD:
            self._held.popitem(last=False)

    def held(self, name: str) -> bytes | None:
        """Return a photo that is held; None where it is not, or not any more."""
        return self._held.get(name)

    @cached_property
    def words(self):
        """The vocabulary."""
        return vocabulary.load()

    @cached_property
    def scenarios(self) -> list[Scenario]:
        """The scenarios to practise on."""
        return lessons.load(self.words)

    @cached_property
    def pages(self) -> Environment:
        """The templates."""
        pages = Environment(
            loader=PackageLoader("hiveweek.serve"),
            autoescape=True,
            undefined=StrictUndefined,
            finalize=_shown,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        pages.filters["says"] = lambda phrase: self.speaker.say(Sentence(phrase))
        pages.filters["words"] = self.speaker.say
        pages.globals.update(message=message, new_id=new_id, Role=Role)
        return pages

    def show(self, session: Session, template: str, status: int = 200, **slots: Any) -> Response:
        """Return a page."""
        slots.setdefault("refresh", 0)
        html = self.pages.get_template(template).render(
            language=self.speaker.language.LOCALE.partition("_")[0],
            session=session,
            login=self.settings.login,
            token=self.sessions.token(session),
            **slots,
        )
        return HTMLResponse(html, status)


@dataclass
class Visit:
    """One request of somebody who may be here.

    Attributes
    ----------
    form : dict of str to list of str
        What was sent along.
    script : bool
        The page's own script asks, and takes plain data.
    """

    desk: Desk
    store: Store
    session: Session
    script: bool = False
    form: dict[str, list[str]] = field(default_factory=dict)
    query: QueryParams = field(default_factory=QueryParams)
    photo: bytes | None = None
    path: str = ""

    def said(self, name: str) -> str:
        """Return one value of the form; empty where it was not sent."""
        return (self.form.get(name) or [""])[0].strip()

    @property
    def who(self) -> str:
        """The name to note by: of whoever wrote it down, where the form says so, for another may be signed in when it comes."""
        said = self.form.get("who")
        return self.session.who if said is None else name_of(said[0])

    def may_take_back(self, note: str) -> bool:
        """Whether a note may be taken back here: by the keeper any, by a helper those of their own session."""
        role = self.session.role
        mine = self.desk.written_by.get(note) == self.session.id
        return bool(note) and (role >= Role.KEEPER or (role >= Role.HELPER and mine))

    def show(self, template: str, status: int = 200, **slots: Any) -> Response:
        """Return a page."""
        return self.desk.show(self.session, template, status, **slots)

    def go(self, path: str) -> Response:
        """Send the browser to another page, after something was written."""
        return RedirectResponse(path, 303)

    # --- the record
    def apiary(self, key: str) -> Apiary:
        """Return an apiary by its id.

        Raises
        ------
        InputProblems
            Where it is not in the record.
        """
        found = next((apiary for apiary in self.store.apiaries() if apiary.id == key), None)
        if found is None:
            raise InputProblems([Problem("", 0, 0, "unknown-apiary", "that apiary is not in the record")])
        return found

    def hive(self, key: str) -> tuple[Hive, Apiary, dt.date]:
        """Return a hive, where it stands, and the day there."""
        hive = self.store.hive(key)
        apiary = apiary_of(self.store, hive, self.desk.settings.today())
        return hive, apiary, self.desk.settings.today(apiary)

    def hives_at(self, apiary: Apiary, day: dt.date) -> list[Hive]:
        """Return the hives that stand in an apiary on a day."""
        return [hive for hive in self.store.hives(apiary.id) if hive.apiary_on(day) == apiary.id]

    def answer(self, apiary: Apiary, **patience: float) -> tuple[Found | None, bool]:
        """Return the newest answer of an apiary, and whether it is of now."""
        return self.desk.answers.ask(self.store, apiary.id, self.desk.settings.today(apiary), **patience)
