"""Photos taken in: made anew from what they show, without place, camera or anything else that a file may carry."""

from __future__ import annotations

import io
import warnings

from PIL import Image, ImageOps
from starlette.exceptions import HTTPException
from starlette.responses import FileResponse, Response

from hiveweek.record import Kind
from hiveweek.record.photos import name_of, path_of
from hiveweek.serve import noting
from hiveweek.serve.desk import Visit

FORMATS = ("JPEG", "PNG", "WEBP")
MOST_PIXELS, LONGEST_SIDE, QUALITY = 60_000_000, 1600, 82


def made_anew(sent: bytes) -> bytes:
    """Return a photo as JPEG, upright, of a size for a page; nothing of the file that was sent but its picture is in it.

    Raises
    ------
    InputProblems
        For what is no photo, or more than a photo.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(sent), formats=FORMATS) as found:
                if found.width * found.height > MOST_PIXELS:
                    raise ValueError("too many pixels")
                found.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
                plain = ImageOps.exif_transpose(found).convert("RGB")
        plain.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        bare = Image.new("RGB", plain.size)
        bare.paste(plain)
        out = io.BytesIO()
        bare.save(out, "JPEG", quality=QUALITY)
    except (OSError, SyntaxError, ValueError, TypeError, Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise noting.problem("bad-photo", "that is no photo this page can read: JPEG, PNG or WebP") from None
    return out.getvalue()


def take(visit: Visit) -> Response:
    """Keep a photo of a hive, with what is said of it."""
    note = noting.begin(visit)
    photo = made_anew(visit.photo) if visit.photo else visit.desk.held(visit.said(noting.FILE))
    if photo is None:
        raise noting.problem("no-photo", "choose a photo")
    name = name_of(photo)
    text = noting.short(visit.said("text"), noting.MOST_REASON)
    for hive in note.hives[:1]:
        note.entries.append(noting.entry(note, visit, hive, Kind.REMARK, text=text, files=(name,)))
    return noting.finish(note, visit, {name: photo})


def show(visit: Visit, name: str) -> Response:
    """Give a photo."""
    path = path_of(visit.desk.settings.folder, name)
    if path is None or not path.is_file():
        raise HTTPException(404)
    return FileResponse(path, media_type="image/jpeg", headers={"cache-control": "max-age=86400, private"})
