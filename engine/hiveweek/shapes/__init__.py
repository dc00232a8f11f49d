"""Reading of content files: YAML with places, held against one JSON Schema a kind of file."""
