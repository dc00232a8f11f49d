"""The effective ruleset kept between runs.

Reading, checking and merging all ruleset files takes far longer than using them. What comes out is kept in the user's cache
folder under a key made of the files' own names, sizes, times and contents, so an edit is seen at once. Whatever goes
wrong with the cache only costs the time to read again.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import sys
from collections.abc import Iterable
from pathlib import Path

from hiveweek import __version__, content
from hiveweek.rules.model import RuleSet
from hiveweek.vocabulary.model import Vocabulary, text_code


def _folder() -> Path | None:
    if os.environ.get("HIVEWEEK_NO_CACHE"):
        return None
    given = os.environ.get("HIVEWEEK_CACHE")
    if given:
        return Path(given)
    from platformdirs import user_cache_path

    return user_cache_path("hiveweek")


def _key(profile: str, traits: dict, jurisdiction, extra: Iterable[Path | str]) -> str:
    digest = hashlib.sha256()
    digest.update(repr((__version__, sys.version_info[:3], profile, sorted(traits.items(), key=str), jurisdiction)).encode())
    own = Path(__file__).resolve().parents[1]
    for path in sorted((content.root() / "rulesets").rglob("*.yaml")):
        if not path.name.endswith(".cases.yaml"):
            stat = path.stat()
            digest.update(f"{path}:{stat.st_size}:{stat.st_mtime_ns};".encode())
    for room in ("rules", "vocabulary"):
        for path in sorted((own / room).glob("*.py")):
            digest.update(f"{path}:{path.stat().st_mtime_ns};".encode())
    for item in extra:
        path = Path(item)
        for file in sorted(path.glob("*.yaml")) if path.is_dir() else [path]:
            digest.update(str(file).encode() + (file.read_bytes() if file.is_file() else b""))
    return digest.hexdigest()[:40]


def effective_rules(profile: str, traits: dict, jurisdiction: str | None = None, extra: Iterable[Path | str] = ()) -> tuple[Vocabulary, RuleSet]:
    """Return the vocabulary and the effective ruleset of the shipped content, from the cache where it is current.

    Parameters
    ----------
    profile, traits, jurisdiction, extra
        As in ``rules.load``.

    Raises
    ------
    InputProblems
        With every problem of every file.
    """
    extra = list(extra)
    folder = _folder()
    path = None
    if folder is not None:
        try:
            path = folder / f"rules-{_key(profile, traits, jurisdiction, extra)}.pickle"
            texts, vocabulary, ruleset = pickle.loads(path.read_bytes())
            if all(text_code(text) == code for code, text in enumerate(texts)):
                return vocabulary, ruleset
        except Exception:
            pass  # absent, unreadable or of another version: read again
    from hiveweek import rules
    from hiveweek.vocabulary import load as load_vocabulary
    from hiveweek.vocabulary import model

    vocabulary = load_vocabulary()
    ruleset = rules.load(profile, traits, jurisdiction=jurisdiction, extra=extra, vocabulary=vocabulary)
    if path is not None:
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            _tidy(path.parent)
            whole = path.with_suffix(f".{os.getpid()}.part")
            whole.write_bytes(pickle.dumps((list(model._TEXTS), vocabulary, ruleset), protocol=5))
            whole.replace(path)
        except OSError:
            pass  # a folder that cannot be written costs only time
    return vocabulary, ruleset


def _tidy(folder: Path, keep: int = 40) -> None:
    old = sorted(folder.glob("rules-*.pickle"), key=lambda p: p.stat().st_mtime, reverse=True)[keep:]
    for path in old:
        path.unlink(missing_ok=True)
