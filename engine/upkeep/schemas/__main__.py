"""Writes the schema files."""

from upkeep.schemas import write

if __name__ == "__main__":
    for path in write():
        print(path.name)
