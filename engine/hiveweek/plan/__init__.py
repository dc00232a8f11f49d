"""Ranking, looks, prohibitions, clashes, visits: what the rules say, made into a plan for the week."""

from hiveweek.plan.model import Advice, HivePlan, Look, WeekPlan, Withheld
from hiveweek.plan.setting import Setting
from hiveweek.plan.week import make

__all__ = ["Advice", "HivePlan", "Look", "Setting", "WeekPlan", "Withheld", "make"]
