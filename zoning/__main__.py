"""``python -m zoning``: the command line where its script is not on the path."""

from __future__ import annotations

from zoning.cli import main

if __name__ == "__main__":  # workers of a batch import this module too
    main()
