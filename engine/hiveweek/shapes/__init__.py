"""Reading of content files: YAML with places, held against the one JSON Schema of its kind of file."""

from hiveweek.shapes.reading import FOLDER, Shape, comment, reached, read, shape

__all__ = ["FOLDER", "Shape", "comment", "reached", "read", "shape"]
