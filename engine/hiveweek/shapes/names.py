"""How names are written in content files, as patterns."""

NAME = r"^[a-z][a-z0-9_-]*$"
RULE_ID = r"^[a-z][a-z0-9_-]*\.[a-z0-9][a-z0-9-]*$"
