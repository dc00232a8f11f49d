"""``hiveweek record copy``: the whole record as it stands at one moment, in another file, and its photos beside it."""

from __future__ import annotations

import argparse
import shutil
from pathlib import Path

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.record_place import add_place, open_record, place_of, print_json, problem
from hiveweek.record import photos
from hiveweek.texts.speaker import says


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("copy", help=says("cli.record.copy"), description=says("cli.record.copy-long"))
    parser.add_argument("out", metavar="OUT.sqlite")
    parser.add_argument("--without-photos", action="store_true", help=says("cli.record.without-photos"))
    add_quiet(parser)
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Copy the record and the photos that it names; a file that is there stays as it is."""
    target = Path(args.out)
    if target.exists():
        raise problem("file-there", f"{target} is there already; a copy goes into a new file")
    with Working(quiet=args.quiet):
        try:
            with open_record(args) as store:
                store.copy(target)
                named = sorted({name for entry in store.everything().entries for name in entry.files})
            left = named if args.without_photos else _photos(named, photos.folder_of(place_of(args)), target)
        except OSError as error:
            raise problem("cannot-write", f"{error.filename or target}: {error.strerror}") from None
    if args.json:
        print_json({"copy": str(target), "photos": len(named) - len(left), "photos_left": left})
    elif not args.quiet:
        print(says("cli.written", file=target.name))
        if len(named) > len(left):
            folder = photos.folder_of(str(target)).name
            print(says("cli.record.photos-copied", n=len(named) - len(left), folder=folder))
        if left:
            said = "cli.record.photos-left" if args.without_photos else "cli.record.photos-gone"
            print(says(said, n=len(left)))
    return 0


def _photos(names: list[str], source: Path, target: Path) -> list[str]:
    """Copy photos to the folder that belongs to the copy; return those that are not where they should be."""
    gone = []
    for name in names:
        path, out = photos.path_of(source, name), photos.path_of(photos.folder_of(str(target)), name)
        if path is None or out is None or not path.is_file():
            gone.append(name)
            continue
        out.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        shutil.copyfile(path, out)
        out.chmod(0o600)
    return gone
