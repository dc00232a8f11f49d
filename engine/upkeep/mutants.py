"""Small faults put into the core one at a time, and whether a test notices: ``python -m upkeep.mutants``.

    python -m upkeep.mutants [--sample 1000] [--seed 1] [--only colony] [--report] [--processes 1]

mutmut makes the faults and runs, for each, only the tests that reach its function; what it is given stands in
``pyproject.toml``. It works on a copy of the project under ``build/mutants``, in which the package lies where it looks for
it, and keeps what it found there: a later run tries again only what is named and what has changed. Mutants that change
nothing but the words of a message are left out. ``tests/mutants.yaml`` lists survivors that no test can or need tell from
the original, each with its reason; a survivor that is not there is printed as open.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import json
import multiprocessing
import os
import random
import shutil
import subprocess
import sys
from collections import Counter
from dataclasses import astuple, dataclass
from pathlib import Path

import yaml
from scipy.stats import binomtest

ROOT = Path(__file__).resolve().parents[2]
WORK = ROOT / "build" / "mutants"
LISTED = ROOT / "tests" / "mutants.yaml"
COPIED = ("tests", "rulesets", "climate_profiles", "scenarios", "docs")
NOTICED = ("killed", "timeout", "segfault", "suspicious")


@dataclass(frozen=True)
class Mutant:
    """One fault.

    Attributes
    ----------
    name : str
        As mutmut calls it.
    place : str
        ``path:line`` in the package.
    where : str
        ``room/module.py function``.
    was, now : str
        The lines changed, stripped and joined.
    text : bool
        Only words of a message differ.
    """

    name: str
    place: str
    where: str
    was: str
    now: str
    text: bool


def lay_out() -> None:
    """Bring the working copy up to date; what has not changed keeps its time, so that it is not mutated anew."""
    WORK.mkdir(parents=True, exist_ok=True)
    _mirror(ROOT / "engine", WORK / "src")
    for name in COPIED:
        _mirror(ROOT / name, WORK / name)
        shutil.rmtree(WORK / "mutants" / name, ignore_errors=True)
    shutil.copy2(ROOT / "pyproject.toml", WORK / "pyproject.toml")
    (WORK / "mutants" / "mutmut-stats.json").unlink(missing_ok=True)  # which test reaches what may have changed
    for path in (WORK / "mutants" / "src").rglob("*"):
        if path.is_file() and path.suffix not in (".py", ".meta", ".spans"):
            path.unlink()


def _mirror(source: Path, target: Path) -> None:
    kept = set()
    for path in source.rglob("*"):
        if not path.is_file() or "__pycache__" in path.parts:
            continue
        copy = target / path.relative_to(source)
        kept.add(copy)
        if not copy.exists() or copy.read_bytes() != path.read_bytes():
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, copy)
    for path in list(target.rglob("*")):
        if path.is_file() and path not in kept:
            path.unlink()


def every() -> list[Mutant]:
    """Return all mutants of the working copy, in the order of their names; what a file holds is kept until it changes."""
    from mutmut.configuration import config
    from mutmut.utils.file_utils import walk_mutatable_files

    here = Path.cwd()
    os.chdir(WORK)
    try:
        config()
        with multiprocessing.Pool(2) as pool:
            found = [mutant for part in pool.imap_unordered(_of_file, walk_mutatable_files()) for mutant in part]
    finally:
        os.chdir(here)
    return sorted(found, key=lambda m: m.name)


def _of_file(path: Path) -> list[Mutant]:
    """Return the mutants of a file, from what was kept of it where it has not changed since."""
    from mutmut.mutation.file_mutation import mutate_file_contents
    from mutmut.utils.format_utils import get_mutant_name, orig_function_and_class_names_from_key

    code = path.read_text(encoding="utf-8")
    kept = Path("listed") / f"{hashlib.sha256((str(path) + code).encode()).hexdigest()[:24]}.json"
    if kept.exists():
        return [Mutant(*row) for row in json.loads(kept.read_text(encoding="utf-8"))]
    starts = _starts(code)
    made = mutate_file_contents(str(path), code)
    lines = made.code.splitlines()
    module = path.relative_to("src/hiveweek").as_posix()
    found = []
    for name in made.mutant_names:
        function, owner = orig_function_and_class_names_from_key(name)
        original = name.partition("__mutmut_")[0] + "__mutmut_orig"
        before, after = (_body(lines, made.line_span_by_function_name[which]) for which in (original, name))
        after[0] = after[0].replace(name, original)
        first, ends = _changed(before, after)
        was, now = (
            " ".join(line.strip() for line in part[first:end]) for part, end in zip((before, after), ends, strict=True)
        )
        called = f"{owner}.{function}" if owner else function
        found.append(
            Mutant(
                get_mutant_name(path, name),
                f"engine/hiveweek/{module}:{starts.get(called, 1) + first}",
                f"{module} {called}",
                was,
                now,
                ('"' in was or "'" in was) and _only_words(before, after),
            )
        )
    kept.parent.mkdir(exist_ok=True)
    kept.write_text(json.dumps([astuple(mutant) for mutant in found]), encoding="utf-8")
    return found


def _body(lines: list[str], span) -> list[str]:
    """Return the lines of a generated function from its ``def`` on."""
    part = [line for line in lines[span.start - 1 : span.end] if "_mutmut_mutated" not in line]
    return part[next(i for i, line in enumerate(part) if "def " in line) :]


def _changed(before: list[str], after: list[str]) -> tuple[int, tuple[int, int]]:
    """Return the first line that differs, and in each part the line after the last that does."""
    least = min(len(before), len(after))
    first = next((i for i in range(least) if before[i] != after[i]), least)
    same = next((i for i in range(least - first) if before[-1 - i] != after[-1 - i]), least - first)
    return first, (len(before) - same, len(after) - same)


def _starts(code: str) -> dict[str, int]:
    """Return the line of each function and method by name."""
    found = {}
    for node in ast.parse(code).body:
        if isinstance(node, ast.FunctionDef):
            found[node.name] = node.lineno
        if isinstance(node, ast.ClassDef):
            for part in node.body:
                if isinstance(part, ast.FunctionDef):
                    found[f"{node.name}.{part.name}"] = part.lineno
    return found


class _Mute(ast.NodeTransformer):
    """Takes the words out of a tree: f-strings' own text, and constants that hold a space."""

    def visit_JoinedStr(self, node):
        node.values = [self.visit(v) for v in node.values if not isinstance(v, ast.Constant)]
        return node

    def visit_Constant(self, node):
        if isinstance(node.value, str) and " " in node.value.strip():
            return ast.Constant("...")
        return node


def _only_words(before: list[str], after: list[str]) -> bool:
    trees = []
    for part in (before, after):
        indent = len(part[0]) - len(part[0].lstrip())
        trees.append(ast.dump(_Mute().visit(ast.parse("\n".join(line[indent:] for line in part)))))
    return trees[0] == trees[1]


def run(names: list[str], processes: int) -> None:
    """Let mutmut try these mutants."""
    environment = {**os.environ, "PYTHONPATH": "", "HIVEWEEK_CACHE": str(WORK / "cache")}
    command = [sys.executable, "-m", "mutmut", "run", "--max-children", str(processes), *names]
    said = WORK / "mutmut.log"
    with said.open("w", encoding="utf-8") as out:
        outcome = subprocess.run(command, cwd=WORK, env=environment, stdout=out, stderr=out, check=False)
    if outcome.returncode:
        raise SystemExit(f"mutmut stopped; what it said stands in {said.relative_to(ROOT)}")


def results() -> dict[str, str]:
    """Return what became of each mutant tried so far, by name."""
    from mutmut.stats import status_by_exit_code

    found = {}
    for path in (WORK / "mutants" / "src").rglob("*.meta"):
        for name, code in json.loads(path.read_text(encoding="utf-8"))["exit_code_by_key"].items():
            if code is not None:
                found[name] = status_by_exit_code[code]
    return found


def report(chosen: list[Mutant], of: int) -> int:
    """Print the share noticed, in all and by room, and the survivors; return how many are open."""
    reasons = {}
    for entry in yaml.safe_load(LISTED.read_text(encoding="utf-8")) if LISTED.exists() else ():
        reasons[(entry["in"], entry["was"], entry["now"])] = entry["reason"]
    became = results()
    tried = [m for m in chosen if m.name in became]
    rooms: dict[str, Counter] = {}
    open_ones: list[tuple[Mutant, str]] = []
    known: list[tuple[Mutant, str]] = []
    for mutant in tried:
        noticed = became[mutant.name] in NOTICED
        for room in ("all", mutant.where.split()[0]):
            rooms.setdefault(room, Counter())[noticed] += 1
        if not noticed:
            reason = reasons.get((mutant.where, mutant.was, mutant.now))
            (known if reason else open_ones).append((mutant, reason or became[mutant.name]))
    for title, part in (("Listed with a reason", known), ("Open", open_ones)):
        print(f"\n{title}: {len(part)}")
        for mutant, why in part:
            print(f"{mutant.place}  {mutant.name.rpartition('.')[2]}: {why}\n  - {mutant.was}\n  + {mutant.now}")
    print(f"\n{'':32}  tried  noticed")
    for room, count in sorted(rooms.items(), key=lambda item: (item[0] == "all", item[0])):
        print(f"{room:32} {count.total():6} {100 * count[True] / count.total():7.1f} %")
    if tried:
        done = rooms["all"]
        sure = binomtest(done[True], done.total()).proportion_ci(method="wilson")
        print(
            f"{done[True]} of {done.total()} noticed ({100 * sure.low:.1f} to {100 * sure.high:.1f} %, 95 % interval); "
            f"mutants in all, without those of words: {of}"
        )
    return len(open_ones)


def main() -> int:
    """Run from the shell."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--sample", type=int, help="try so many, drawn at random; else all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="only mutants whose module or function holds this text")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--again", action="store_true", help="try only those that no test noticed so far")
    parser.add_argument("--report", action="store_true", help="only say what became of those tried so far")
    given = parser.parse_args()
    if not given.report:
        lay_out()
    mutants = [m for m in every() if not m.text and given.only in m.where]
    chosen = mutants
    if given.sample is not None and given.sample < len(mutants):
        chosen = sorted(random.Random(given.seed).sample(mutants, given.sample), key=lambda m: m.name)
    if not given.report:
        became = results() if given.again else {}
        run([m.name for m in chosen if became.get(m.name, "") not in NOTICED], given.processes)
    return 1 if report(chosen, len(mutants)) else 0


if __name__ == "__main__":
    raise SystemExit(main())
