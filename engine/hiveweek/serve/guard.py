"""What is refused before any page sees it: foreign hosts and sites, large and slow requests; and the headers of every answer."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress
from typing import Any

import h11
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from uvicorn.protocols.http.h11_impl import H11Protocol

from hiveweek.serve.settings import Settings
from hiveweek.texts.speaker import says

MOST_BYTES, MOST_PHOTO_BYTES = 64 * 1024, 16 * 1024 * 1024
MOST_SECONDS, MOST_PHOTO_SECONDS = 20.0, 120.0  # in which a body has to come in
MOST_REFUSED_SECONDS = 2.0  # in which the body of a refused request is still taken in
MOST_HEAD_SECONDS = 10.0  # in which the head of a request has to come in
MOST_HEAD_BYTES = 16 * 1024
PHOTOS = "/photo"
HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; worker-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), camera=()",
    "cache-control": "no-store",
}


class Guard:
    """Stands before the pages.

    Parameters
    ----------
    app : ASGI application
    settings : Settings
        Names the hosts that may be called.
    """

    def __init__(self, app: ASGIApp, settings: Settings):
        self.app, self.settings = app, settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        body = _Body(receive, scope)
        send = _with_headers(send, body)
        refused = self._refused(scope, Headers(scope=scope))
        if refused is not None:
            status, why = refused
            if why != "size":
                await body.let_in()
            await PlainTextResponse(says(f"page.refused.{why}") + "\n", status)(scope, receive, send)
            return
        await self.app(scope, body.receive, send)

    def _refused(self, scope: Scope, headers: Headers) -> tuple[int, str] | None:
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self.settings.hosts:
            return 421, "host"
        if scope["method"] in ("GET", "HEAD"):
            return None
        if scope["method"] != "POST":
            return 405, "method"
        origins, sites = headers.getlist("origin"), headers.getlist("sec-fetch-site")
        if any(origin not in self.settings.origins for origin in origins) or any(s != "same-origin" for s in sites):
            return 403, "site"
        length = headers.get("content-length")
        if length is not None and (not length.isdigit() or int(length) > most_bytes(scope)):
            return 413, "size"
        return None


def most_bytes(scope: Scope) -> int:
    """Return how large the body of a request may be."""
    return MOST_PHOTO_BYTES if scope["path"] == PHOTOS else MOST_BYTES


class _Body:
    """The body of a request, no larger and no slower than it may be; ``whole`` once all of it has come."""

    def __init__(self, receive: Receive, scope: Scope):
        self._receive, self._most, self._taken = receive, most_bytes(scope), 0
        self._loop = asyncio.get_running_loop()
        self._until = self._loop.time() + (MOST_PHOTO_SECONDS if scope["path"] == PHOTOS else MOST_SECONDS)
        self.whole = scope["method"] != "POST"

    async def receive(self) -> Message:
        """Take in a piece."""
        if self.whole:  # what comes now is the end of the connection, or the end of a body that is none
            return await self._receive()
        try:
            message = await asyncio.wait_for(self._receive(), max(0.01, self._until - self._loop.time()))
        except TimeoutError:
            raise HTTPException(408, says("page.refused.slow")) from None
        if message["type"] == "http.request":
            self._taken += len(message.get("body", b""))
            self.whole = not message.get("more_body", False)
            if self._taken > self._most:
                self.whole = False
                raise HTTPException(413, says("page.refused.size"))
        return message

    async def let_in(self) -> None:
        """Take in what is left of a small body that nobody wants, so that whoever sent it can read the answer.

        A connection that is closed over bytes not taken in is reset, and the answer lost with it.
        """
        self._most = min(self._most, MOST_BYTES)
        self._until = min(self._until, self._loop.time() + MOST_REFUSED_SECONDS)
        with suppress(HTTPException):
            while not self.whole and (await self.receive())["type"] != "http.disconnect":
                pass


def _with_headers(send: Send, body: _Body) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            if not body.whole:  # nobody waits for the rest of it
                headers["connection"] = "close"
        await send(message)

    return sending


class Patient(H11Protocol):
    """A connection that is closed where the head of a request does not come in time."""

    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._wait(self.transport.close)

    def data_received(self, data: bytes) -> None:
        """Take in what came; wait anew for the rest of a head."""
        super().data_received(data)
        if self.conn.their_state is not h11.IDLE:
            self._stop()
        elif self._late is None and self.conn.trailing_data[0]:
            self._wait(self.transport.close)

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no longer."""
        self._stop()
        super().connection_lost(exc)

    def _wait(self, late: Callable[[], None]) -> None:
        self._late = self.loop.call_later(MOST_HEAD_SECONDS, late)

    def _stop(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None
