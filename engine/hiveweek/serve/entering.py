"""Signing in and out."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from hiveweek.serve.desk import Desk, name_of
from hiveweek.serve.phrases import Tries, mark, role_of
from hiveweek.serve.secrets_kept import phrases
from hiveweek.texts.parts import message


class Door:
    """Lets in who knows a pass phrase.

    Parameters
    ----------
    desk : Desk
    tries : Tries, optional
    """

    def __init__(self, desk: Desk, tries: Tries | None = None):
        self.desk, self.tries = desk, tries or Tries()

    async def show(self, request: Request) -> Response:
        """Ask for the pass phrase."""
        return self._page(request.query_params.get("to", "/"), [])

    async def enter(self, request: Request) -> Response:
        """Let somebody in, or say that the phrase is wrong."""
        async with request.form(max_files=0, max_fields=10) as sent:
            form = {name: value for name, value in sent.items() if isinstance(value, str)}
        address = request.client.host if request.client else ""
        to, who = form.get("to", "/"), name_of(form.get("who", ""))
        wait = self.tries.wait(address)
        if wait > 0:
            return self._page(
                to, [message("page.enter-wait", n=int(wait) + 1)], 429, {"retry-after": str(int(wait) + 1)}
            )
        # Counted before it is tried, so that many at once are not tried for the price of one.
        self.tries.wrong(address)
        known = phrases(self.desk.settings.folder)
        role = await run_in_threadpool(role_of, form.get("phrase", ""), known)
        if role is None:
            return self._page(to, [message("page.enter-wrong")], 403)
        self.tries.right(address)
        session = self.desk.sessions.new(role, who, mark(known[role.name.lower()]))
        response = RedirectResponse(_local(to), 303)
        self.desk.sessions.write(response, session)
        return response

    async def leave(self, request: Request) -> Response:
        """Let somebody out."""
        response = RedirectResponse("/enter", 303)
        self.desk.sessions.end(response)
        return response

    def _page(self, to: str, said: list, status: int = 200, headers: dict[str, str] | None = None) -> Response:
        desk = self.desk
        html = desk.pages.get_template("enter.html.j2").render(
            language=desk.speaker.language.LOCALE.partition("_")[0],
            title=message("page.enter"),
            to=_local(to),
            said=said,
        )
        return HTMLResponse(html, status, headers)


def _local(to: str) -> str:
    """Return an address of this page; whatever else is named leads to the first."""
    plain = to.isascii() and to.isprintable() and to.startswith("/") and not to.startswith(("//", "/\\"))
    return to if plain and "\\" not in to else "/"
