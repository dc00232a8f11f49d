"""How the manual is built: ``python -m upkeep.manual OUT``."""

project = "hiveweek"
author = "the hiveweek maintainers"
extensions = ["myst_parser", "sphinx.ext.autodoc", "numpydoc"]
html_theme = "furo"
html_title = "hiveweek"
exclude_patterns = ["worked-overlay/**", "climate-stations/**"]
myst_enable_extensions = ["colon_fence"]
myst_heading_anchors = 3
numpydoc_show_class_members = False
autodoc_typehints = "none"
nitpicky = False
