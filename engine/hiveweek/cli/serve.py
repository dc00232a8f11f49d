"""``hiveweek serve``: the week on a local page."""

from __future__ import annotations

import argparse
import getpass
import ipaddress
import socket
import ssl
import sys
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path

from hiveweek.cli.record_place import day_given, is_there, place_of, problem
from hiveweek.record.photos import folder_of
from hiveweek.texts.speaker import says

PORT = 8737
NEEDS = ("starlette", "uvicorn", "itsdangerous", "python_multipart", "argon2", "cryptography", "segno", "PIL")
LOOPBACK = "127.0.0.1"
ROLES = ("keeper", "helper", "reader")
USUAL = {80, 443}  # ports that browsers leave out


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("serve", help=says("cli.main.serve"), description=says("cli.serve.description"))
    parser.add_argument("--record", metavar="PATH|URL", help=says("cli.record.place"))
    parser.add_argument("--port", type=int, default=PORT, metavar="N", help=says("cli.serve.port"))
    parser.add_argument("--lan", action="store_true", help=says("cli.serve.lan"))
    parser.add_argument("--address", metavar="IP", help=says("cli.serve.address"))
    parser.add_argument("--set-phrase", choices=ROLES, metavar="ROLE", help=says("cli.serve.set-phrase"))
    parser.add_argument("--certificate", metavar="PEM", help=says("cli.serve.certificate"))
    parser.add_argument("--key", metavar="PEM", help=says("cli.serve.key"))
    parser.add_argument("--plain-http", action="store_true", help=says("cli.serve.plain-http"))
    parser.add_argument("--date", metavar="YYYY-MM-DD", help=says("cli.serve.date"))
    parser.add_argument("--forecast", metavar="CSV", help=says("cli.week.forecast"))
    parser.add_argument("--offline", action="store_true", help=says("cli.week.offline"))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Serve until Ctrl-C, or set a pass phrase."""
    if any(find_spec(name) is None for name in NEEDS):
        raise problem("no-serve", "the page needs more packages: pip install 'hiveweek[serve]'")
    place = place_of(args)
    if not is_there(place):
        raise problem("no-record", f"there is no record at {place} yet; 'hiveweek apiary new NAME' begins one")
    if args.set_phrase:
        return _set_phrase(folder_of(place), args.set_phrase)
    _check(args)
    address = _address(args.address) if args.lan else LOOPBACK
    listening = _listening(address, args.port)
    _serve(args, place, address, listening)
    return 0


def _check(args: argparse.Namespace) -> None:
    """Refuse words that do not go together."""
    only_lan = [name for name in ("address", "certificate", "key", "plain_http") if getattr(args, name)]
    if only_lan and not args.lan:
        raise problem("bad-words", f"--{only_lan[0].replace('_', '-')} goes with --lan")
    if bool(args.certificate) != bool(args.key):
        raise problem("bad-words", "--certificate and --key go together")
    if args.plain_http and args.certificate:
        raise problem("bad-words", "--plain-http is without TLS; leave out --certificate")


def _set_phrase(folder: Path, role: str) -> int:
    from hiveweek.serve.phrases import hashed
    from hiveweek.serve.secrets_kept import keep_phrase

    if sys.stdin.isatty():
        phrase = getpass.getpass(says("cli.serve.phrase", role=role))
        if getpass.getpass(says("cli.serve.phrase-again")) != phrase:
            raise problem("two-phrases", "the two are not the same; nothing was changed")
    else:
        phrase = sys.stdin.readline().rstrip("\n")
    keep_phrase(folder, role, hashed(phrase))
    print(says("cli.serve.phrase-set", role=role))
    return 0


def _address(given: str | None) -> str:
    """Return the address that phones use: the one given, or that from which this machine would go out."""
    if given:
        try:
            return str(ipaddress.ip_address(given))
        except ValueError:
            raise problem("bad-address", f"--address {given} is no address like 192.168.1.20") from None
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect(("192.0.2.1", 9))  # sends nothing: the system only chooses the way
            return str(probe.getsockname()[0])
    except OSError:
        raise problem("no-network", "this machine has no address in a network; --address IP names one") from None


def _listening(address: str, port: int) -> list[socket.socket]:
    """Return the sockets of an address, and of this machine itself on the same port."""
    from hiveweek.serve.run import bound

    made: list[socket.socket] = []
    try:
        made.append(bound(address, port))
        if address != LOOPBACK:
            made.append(bound(LOOPBACK, made[0].getsockname()[1]))
    except OSError as error:
        for one in made:
            one.close()
        raise problem(
            "no-port", f"{address}, port {port}, cannot be taken ({error.strerror}); --port N is another"
        ) from None
    return made


def _hosts(names: Sequence[str], port: int) -> tuple[str, ...]:
    written = [f"[{name}]" if ":" in name else name.lower() for name in names]
    return (*(f"{name}:{port}" for name in written), *(written if port in USUAL else ()))


def _serve(args: argparse.Namespace, place: str, address: str, listening: list[socket.socket]) -> None:
    from hiveweek.serve.run import serve
    from hiveweek.serve.secrets_kept import phrases
    from hiveweek.serve.settings import Settings

    folder, port = folder_of(place), listening[0].getsockname()[1]
    names = [LOOPBACK, "localhost"]
    if args.lan:
        if "keeper" not in phrases(folder):
            raise problem("no-phrase", "--lan needs a pass phrase: 'hiveweek serve --set-phrase keeper' sets it")
        names = list(dict.fromkeys([address, *names, socket.gethostname(), f"{socket.gethostname()}.local"]))
    secure = args.lan and not args.plain_http
    tls, mark = _tls(args, folder, names) if secure else (None, "")
    settings = Settings(
        place,
        folder,
        _hosts(names, port),
        secure=secure,
        login=args.lan,
        day=day_given(args.date),
        forecast=args.forecast,
        offline=args.offline,
    )
    url = f"{'https' if secure else 'http'}://{_hosts([address], port)[0]}/"

    def ready() -> None:
        if args.lan:
            _tell_phones(url, mark)
        print(says("cli.serve.here", url=url))
        sys.stdout.flush()

    serve(settings, listening, ready, tls)


def _tls(args: argparse.Namespace, folder: Path, names: Sequence[str]) -> tuple[ssl.SSLContext, str]:
    from hiveweek.serve import tls

    if args.certificate:
        certificate, key = Path(args.certificate), Path(args.key)
    else:
        certificate, key = tls.own(folder, names)
    return tls.context(certificate, key), tls.fingerprint(certificate)


def _tell_phones(url: str, mark: str) -> None:
    import segno

    segno.make(url, micro=False).terminal(compact=True)  # the address alone: whoever reads it still needs the phrase
    if mark:
        print(says("cli.serve.fingerprint", mark=mark))
    else:
        print(says("cli.serve.no-tls"))
