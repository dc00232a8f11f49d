"""Builds the manual from ``docs/``: ``python -m upkeep.manual OUT``.

The guides and tables stand in ``docs/``; the rulebook's pages (one a rule) and the list of changes are made here. Sphinx builds it all,
and any warning (a dead link, a page that nobody reaches) is an error.
"""

from __future__ import annotations

import argparse
import re
import shutil
import sys
import tempfile
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from hiveweek import content, vocabulary
from hiveweek.authoring.book import Book

SKIP = ("worked-overlay", "climate-stations")


def _pages(folder: Path) -> int:
    """Write the rulebook: a page a rule, a page a topic, an index. Return how many rules."""
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).with_name("templates")),
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        autoescape=False,  # Markdown for Sphinx, which escapes on its own
    )
    environment.filters["cell"] = lambda text: str(text).replace("|", "\\|").replace("\n", " ")
    template = environment.get_template("rule_page.md.j2")
    data = Book(vocabulary.load()).data()
    folder.mkdir()
    topics = []
    for topic in data["topics"]:
        rows = [*topic["rules"], *topic["findings"]]
        for rule in rows:
            said = str([rule[key] for key in ("when", "unless", "because")])
            limits = [limit for limit in topic["limits"] if limit["id"] in said]
            text = template.render(r=rule, anchors=data["anchors"], limits=limits)
            (folder / f"{rule['id'].replace('.', '-')}.md").write_text(
                re.sub(r"\n{3,}", "\n\n", text), encoding="utf-8"
            )
        names = "\n".join(rule["id"].replace(".", "-") for rule in rows)
        about = f"{topic['about']}\n\n" if topic["about"] else ""
        body = f"# {topic['title']}\n\n{about}```{{toctree}}\n:maxdepth: 1\n\n{names}\n```\n"
        (folder / f"topic-{topic['name']}.md").write_text(body, encoding="utf-8")
        topics.append(f"topic-{topic['name']}")
    listed = "\n".join(topics)
    (folder / "index.md").write_text(
        "# The rulebook\n\nEvery rule as it stands before any climate, place or keeper changes it. `hiveweek rules book --profile ID` "
        f"gives the rules of one climate on one page.\n\n```{{toctree}}\n:maxdepth: 2\n\n{listed}\n```\n",
        encoding="utf-8",
    )
    return sum(len(topic["rules"]) + len(topic["findings"]) for topic in data["topics"])


def build(out: Path) -> int:
    """Build the manual into a folder.

    Returns
    -------
    int
        Sphinx's exit code: 0 where nothing was wrong.
    """
    from sphinx.cmd.build import build_main  # only here: nobody else waits for it

    root = content.root()
    with tempfile.TemporaryDirectory() as folder:
        source = Path(folder) / "docs"
        shutil.copytree(root / "docs", source, ignore=shutil.ignore_patterns("*.yaml"))
        rules = _pages(source / "rules")
        shutil.copy(root / "CHANGELOG.md", source / "changes.md")
        shutil.copytree(root / "docs" / "worked-overlay", source / "worked-overlay", dirs_exist_ok=True)
        code = build_main(["-q", "-W", "--keep-going", "-b", "html", "-j", "2", str(source), str(out)])
    print(f"{rules} rules, manual in {out}" if code == 0 else "the manual has faults")
    return int(code)


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("out", type=Path, metavar="OUT", help="folder for the pages")
    return build(parser.parse_args().out)


if __name__ == "__main__":
    sys.exit(main())
