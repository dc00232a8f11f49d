"""The laws of advice over random and aimed hives, through the whole way from a scenario to the JSON of its answer.

``python -m upkeep.laws [--law A,B] [--hives N] [--seed S]`` counts what breaks them; a module a law, a witness for each kind of break.
"""
