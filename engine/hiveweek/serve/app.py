"""The addresses of the page, and what stands before each: who may, how much, in whose name."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Callable
from urllib.parse import quote

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp

from hiveweek.problems import InputProblems
from hiveweek.record.store import StoreFault, open_store
from hiveweek.serve import noting, pages, photos, practising, wording
from hiveweek.serve.desk import STATIC, Desk, Visit, plain
from hiveweek.serve.entering import Door
from hiveweek.serve.guard import Guard
from hiveweek.serve.phrases import mark
from hiveweek.serve.secrets_kept import phrases
from hiveweek.serve.sessions import Role, Session
from hiveweek.texts.parts import message
from hiveweek.texts.speaker import says

UNKNOWN = ("unknown-apiary", "unknown-hive", "unknown-entry", "unknown-lesson", "unknown-sitting")
MOST_FIELDS = 400
Handler = Callable[..., Response]


def application(desk: Desk) -> ASGIApp:
    """Return the application, with the guard before all of it, so that what breaks is answered as anything else is."""

    def read(path: str, handler: Handler, role: Role = Role.READER) -> Route:
        return Route(path, _endpoint(desk, handler, role), methods=["GET"])

    def write(path: str, handler: Handler, role: Role) -> Route:
        return Route(path, _endpoint(desk, handler, role), methods=["POST"])

    door = Door(desk)

    def alive(visit: Visit) -> Response:
        return JSONResponse({"token": desk.sessions.token(visit.session)})

    async def static(request: Request) -> Response:
        name = request.path_params["name"]
        if name not in STATIC:
            raise HTTPException(404)
        headers = {"cache-control": "no-cache", "service-worker-allowed": "/"}
        return Response(desk.static[name], media_type=STATIC[name], headers=headers)

    async def icon(request: Request) -> Response:
        return Response(status_code=204)

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        desk.answers.start()
        yield
        desk.answers.close()

    routes = [
        read("/", pages.home),
        read("/a/{key}", pages.sheet),
        read("/a/{key}/print", pages.printed),
        read("/h/{key}", pages.hive),
        read("/visits", pages.visits),
        read("/hiveweek.ics", pages.calendar_file),
        read("/practice", practising.overview),
        read("/practice/{lesson}", practising.question),
        read("/practice/{lesson}/{key}", practising.marks),
        read("/alive", alive),
        read("/photo/{name}", photos.show),
        write("/note", noting.facts, Role.HELPER),
        write("/read", wording.read, Role.HELPER),
        write("/words", wording.keep, Role.HELPER),
        write("/done", noting.done, Role.HELPER),
        write("/later", noting.later, Role.KEEPER),
        write("/skip", noting.skip, Role.KEEPER),
        write("/undo", noting.undo, Role.HELPER),
        write("/photo", photos.take, Role.HELPER),
        write("/practice/{lesson}", practising.take, Role.READER),
        Route("/enter", door.show, methods=["GET"]),
        Route("/enter", door.enter, methods=["POST"]),
        Route("/leave", door.leave, methods=["POST"]),
        Route("/static/{name}", static, methods=["GET"]),
        Route("/favicon.ico", icon, methods=["GET"]),
    ]
    pages_alone = Starlette(
        routes=routes, exception_handlers={HTTPException: _refused, Exception: _broken}, lifespan=lifespan
    )
    return Guard(pages_alone, desk.settings)


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    said = says("page.refused.nothing-here") if error.status_code == 404 else error.detail
    return PlainTextResponse(f"{said}\n", error.status_code, headers=error.headers)


def _broken(request: Request, error: Exception) -> Response:
    return PlainTextResponse(says("page.refused.broken") + "\n", 500)


def _endpoint(desk: Desk, handler: Handler, role: Role):
    async def endpoint(request: Request) -> Response:
        session = _session(desk, request)
        fresh = session is None and not desk.settings.login
        if fresh:
            session = desk.sessions.new(Role.KEEPER)
        script = "application/json" in request.headers.get("accept", "")
        if session is None:
            return _enter(request, script)
        if session.role < role:
            return _not_you(script)
        visit_form: dict[str, list[str]] = {}
        if request.method == "POST":
            visit_form, photo = await _form(request)
            token = (visit_form.get("token") or [""])[0]
            if not desk.sessions.holds(session, token):
                return _wrong_token(script)
        else:
            photo = None
        response = await run_in_threadpool(
            _work,
            desk,
            handler,
            session,
            script,
            visit_form,
            photo,
            request.query_params,
            request.url.path,
            request.path_params,
        )
        if fresh:
            desk.sessions.write(response, session)
        return response

    return endpoint


def _work(desk, handler, session: Session, script, form, photo, query, path: str, names: dict[str, str]) -> Response:
    try:
        with open_store(desk.settings.place) as store:
            return handler(Visit(desk, store, session, script, form, query, photo, path), **names)
    except InputProblems as error:
        lines = pages.problem_lines(error)
        busy = isinstance(error, StoreFault)  # not the note's fault: the phone keeps it and sends it again
        status = 503 if busy else 404 if error.problems[0].code in UNKNOWN else 422
        if script:
            return JSONResponse({"state": "" if busy else "wrong", "why": lines}, status)
        return desk.show(session, "problem.html.j2", status, title=message("page.problem"), wrong=lines)


def _session(desk: Desk, request: Request) -> Session | None:
    """Return whose request it is; a session that another pass phrase began has ended."""
    session = desk.sessions.read(request.cookies)
    if session is None or not desk.settings.login:
        return session
    known = phrases(desk.settings.folder).get(session.role.name.lower())
    return session if known is not None and session.phrase == mark(known) else None


async def _form(request: Request) -> tuple[dict[str, list[str]], bytes | None]:
    form: dict[str, list[str]] = {}
    photo = None
    async with request.form(max_files=1, max_fields=MOST_FIELDS) as sent:
        for name, value in sent.multi_items():
            if isinstance(value, UploadFile):
                photo = await value.read()
            else:
                form.setdefault(plain(name), []).append(plain(value))
    return form, photo


def _enter(request: Request, script: bool) -> Response:
    if script:
        return JSONResponse({"state": "enter", "why": [says("page.enter-again")]}, 401)
    target = request.url.path if request.method == "GET" else "/"
    return RedirectResponse(f"/enter?to={quote(target)}", 303)


def _not_you(script: bool) -> Response:
    if script:
        return JSONResponse({"state": "wrong", "why": [says("page.refused.role")]}, 403)
    return PlainTextResponse(says("page.refused.role") + "\n", 403)


def _wrong_token(script: bool) -> Response:
    if script:
        return JSONResponse({"state": "token", "why": [says("page.refused.token")]}, 403)
    return PlainTextResponse(says("page.refused.token") + "\n", 403)
