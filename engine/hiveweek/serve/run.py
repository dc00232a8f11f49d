"""The server around the pages."""

from __future__ import annotations

import asyncio
import contextlib
import signal
import socket
import ssl
from collections.abc import Callable, Iterator

import uvicorn

from hiveweek.serve.app import application
from hiveweek.serve.desk import Desk
from hiveweek.serve.guard import MOST_HEAD_BYTES, Patient
from hiveweek.serve.secrets_kept import secret
from hiveweek.serve.settings import Settings


def bound(address: str, port: int) -> socket.socket:
    """Return a socket that listens; port 0 takes a free one.

    Raises
    ------
    OSError
        Where another program has the port, or the address is not this machine's.
    """
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    found = socket.socket(family, socket.SOCK_STREAM)
    found.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        found.bind((address, port))
    except OSError:
        found.close()
        raise
    return found


def serve(
    settings: Settings, listening: list[socket.socket], ready: Callable[[], None], tls: ssl.SSLContext | None = None
) -> None:
    """Serve until it is ended.

    Parameters
    ----------
    settings : Settings
    listening : list of socket
    ready : callable
        Called when pages can be asked for.
    tls : SSLContext, optional
    """
    desk = Desk(settings, secret(settings.folder))
    config = uvicorn.Config(
        application(desk),
        http=Patient,
        ws="none",
        log_config=None,
        access_log=False,
        server_header=False,
        date_header=False,
        proxy_headers=False,
        h11_max_incomplete_event_size=MOST_HEAD_BYTES,
        timeout_keep_alive=15,
        timeout_graceful_shutdown=3,
        backlog=256,
    )
    config.load()
    config.ssl = tls
    server = _Server(config, ready)
    with asyncio.Runner() as runner:
        runner.run(server.serve(sockets=listening))


class _Server(uvicorn.Server):
    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]):
        super().__init__(config)
        self._ready = ready

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """End in order when asked to, also where whoever started the page ignores Ctrl-C; the signal is not raised again."""
        before = {one: signal.signal(one, self.handle_exit) for one in (signal.SIGINT, signal.SIGTERM)}
        try:
            yield
        finally:
            for one, handler in before.items():
                signal.signal(one, handler)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self._ready()
