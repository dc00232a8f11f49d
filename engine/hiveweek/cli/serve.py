"""``hiveweek serve``: the week on a local page."""

from __future__ import annotations

import argparse
import sys
from importlib.util import find_spec

from hiveweek.cli.record_place import day_given, is_there, place_of, problem
from hiveweek.record.photos import folder_of
from hiveweek.texts.speaker import says

PORT = 8737
NEEDS = ("starlette", "uvicorn", "itsdangerous", "multipart", "argon2", "cryptography", "segno", "PIL")
LOOPBACK = "127.0.0.1"


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("serve", help=says("cli.main.serve"), description=says("cli.serve.description"))
    parser.add_argument("--record", metavar="PATH|URL", help=says("cli.record.place"))
    parser.add_argument("--port", type=int, default=PORT, metavar="N", help=says("cli.serve.port"))
    parser.add_argument("--date", metavar="YYYY-MM-DD", help=says("cli.serve.date"))
    parser.add_argument("--forecast", metavar="CSV", help=says("cli.week.forecast"))
    parser.add_argument("--offline", action="store_true", help=says("cli.week.offline"))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Serve until Ctrl-C."""
    missing = [name for name in NEEDS if find_spec(name) is None]
    if missing:
        raise problem("no-serve", "the page needs more packages: pip install 'hiveweek[serve]'")
    from hiveweek.serve.run import bound, serve
    from hiveweek.serve.settings import Settings

    place = place_of(args)
    if not is_there(place):
        raise problem("no-record", f"there is no record at {place} yet; 'hiveweek apiary new NAME' begins one")
    try:
        listening = bound(LOOPBACK, args.port)
    except OSError as error:
        raise problem(
            "no-port", f"port {args.port} cannot be taken: {error.strerror}; --port N takes another"
        ) from None
    port = listening.getsockname()[1]
    hosts = tuple(f"{name}:{port}" for name in (LOOPBACK, "localhost"))
    settings = Settings(
        place, folder_of(place), hosts, day=day_given(args.date), forecast=args.forecast, offline=args.offline
    )

    def ready() -> None:
        print(says("cli.serve.here", url=f"http://{LOOPBACK}:{port}/"))
        sys.stdout.flush()

    serve(settings, listening, ready)
    return 0
