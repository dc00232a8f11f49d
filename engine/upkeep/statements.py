"""Compiles the store's statements for SQLite: ``python -m upkeep.statements`` writes ``record/store/statements.json``."""

from __future__ import annotations

import json
import re

from sqlalchemy import ClauseElement
from sqlalchemy.dialects import sqlite
from sqlalchemy.sql.compiler import SQLCompiler

from hiveweek.record.store.sqlite import COMPILED
from hiveweek.record.store.statements import statements


def text() -> str:
    """Return the compiled statements as the text of their file."""
    dialect = sqlite.dialect(paramstyle="named")
    compiled = {}
    for name, statement in sorted(statements().items()):
        assert isinstance(statement, ClauseElement)  # all that can be run can be compiled; the types do not say so
        made = statement.compile(dialect=dialect, compile_kwargs={"render_postcompile": True})
        assert isinstance(made, SQLCompiler)
        sql = str(made)
        for key, bound in made.binds.items():
            if not bound.required and bound.value is not None:  # a constant of the statement
                value = f"'{bound.value}'" if isinstance(bound.value, str) else str(int(bound.value))
                sql = re.sub(rf":{key}\b", value, sql)
        compiled[name] = " ".join(sql.split())
    return json.dumps(compiled, indent=1, sort_keys=True) + "\n"


if __name__ == "__main__":
    COMPILED.write_text(text(), encoding="utf-8")
    print(COMPILED.name)
