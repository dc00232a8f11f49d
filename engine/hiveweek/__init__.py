"""hiveweek: what to do this week, for each hive, and why.

The interface for other Python programs, each part loaded when it is first asked for:

``week(record)``
    The plan of a week for a scenario file, a record in its shape, or a `Scenario`.
``climate(place)``
    The year of a climate, as ``hiveweek climate show --json`` prints it.
``rules(profile)``
    The rules that hold in a climate, as ``hiveweek rules merged --json`` prints them.
``as_json(plan)``
    A plan as plain data, as ``hiveweek week --json`` prints it.
``InputProblems``
    Raised by all of them with every problem of what was given.

`climate` and `rules` are also the packages in which climates and rules are worked out; they can be called (`callable_room`).
"""

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

__all__ = ["InputProblems", "WeekPlan", "as_json", "climate", "rules", "week"]

if TYPE_CHECKING:
    from hiveweek.interface import InputProblems, WeekPlan, as_json, climate, rules, week
else:

    def __getattr__(name: str) -> Any:
        from importlib import import_module

        if name in ("climate", "rules"):
            return import_module(f"hiveweek.{name}")
        if name in __all__:
            return getattr(import_module("hiveweek.interface"), name)
        raise AttributeError(f"module 'hiveweek' has no attribute '{name}'")
