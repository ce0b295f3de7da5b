"""Settings of the documentation build."""

from importlib import metadata

project = "zoning"
author = "the zoning contributors"
copyright = "the zoning contributors"
release = metadata.version("compaction-zoning")
extensions = ["sphinx.ext.autodoc", "sphinx.ext.napoleon", "sphinx-mathjax-offline"]
exclude_patterns = ["_build"]
html_theme = "furo"
html_title = "zoning"
html_copy_source = False
nitpicky = False
autodoc_typehints = "none"
