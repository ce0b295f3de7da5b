"""Settings of the documentation build."""

from importlib.metadata import version

project = "zoning"
author = "the zoning contributors"
copyright = "the zoning contributors"
release = version("compaction-zoning")
extensions = ["sphinx.ext.autodoc", "sphinx.ext.napoleon", "sphinx.ext.mathjax"]
exclude_patterns = ["_build"]
html_theme = "furo"
html_title = "zoning"
html_copy_source = False
nitpicky = False
autodoc_typehints = "none"
mathjax_path = ""
