"""The fact room: what is known of each hive on the day of the answer, and where it comes from."""

from hiveweek.facts.build import Built, build
from hiveweek.facts.reading import read_cases, read_scenario, scenario_of
from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.facts.table import Column, FactTable
from hiveweek.record.history import History

__all__ = [
    "Apiary",
    "Built",
    "Column",
    "FactTable",
    "History",
    "Scenario",
    "ScenarioHive",
    "build",
    "read_cases",
    "read_scenario",
    "scenario_of",
]
