"""Words, tables and truths for tests of what conditions mean."""

from hiveweek.facts.table import FactTable
from hiveweek.language.bits import Told
from hiveweek.language.meaning import View, evaluate
from hiveweek.language.truth import Truth
from hiveweek.vocabulary.model import Fact, Vocabulary

T, F, U = Truth.TRUE, Truth.FALSE, Truth.UNDECIDED
NAMES = tuple(f"a.n{k:02d}" for k in range(14))
WORDS = Vocabulary(
    facts={name: Fact(name, "number", "observed", "kg") for name in NAMES}
    | {f"b.y{k}": Fact(f"b.y{k}", "yes_no", "observed") for k in range(3)}
    | {"c.w": Fact("c.w", "one_of", "observed", values=("ash", "birch", "cedar"))}
)


def table_of(hives=("A",), **columns):
    """A table from name_with_underscore=[value or (value, low, high) or None, ...]."""
    table = FactTable(WORDS, list(hives))
    for name, cells in columns.items():
        for row, cell in enumerate(cells if isinstance(cells, list) else [cells]):
            if cell is not None:
                value, low, high = cell if isinstance(cell, tuple) else (cell, None, None)
                table.set_one(row, name.replace("_", "."), value, low, high)
    return table


def truth_of(condition, table, hive=0):
    """What columns say of a condition; bits say the same of it."""
    said = evaluate(condition, View(table, {}, {})).at(hive)
    assert evaluate(condition, View(table, {}, {}, told=Told(len(table)))).at(hive) == said
    return said
