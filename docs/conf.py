"""Settings of the documentation build."""

import sys
from importlib import metadata
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))

import _reference  # noqa: E402

_reference.make(HERE.parent)

project = "zoning"
author = "the zoning contributors"
copyright = "the zoning contributors"
release = metadata.version("compaction-zoning")
extensions = ["sphinx.ext.autodoc", "sphinx.ext.napoleon", "sphinx-mathjax-offline"]
exclude_patterns = ["_build", "reference/_made", "pictures"]
html_theme = "furo"
html_title = "zoning"
html_copy_source = False
html_show_sphinx = False
html_static_path = ["_static"]
html_css_files = ["pages.css"]
html_theme_options = {"navigation_with_keys": True}
nitpicky = False
suppress_warnings = ["toc.empty_glob"]
autodoc_typehints = "none"
