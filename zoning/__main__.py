"""``python -m zoning`` does what the command ``zoning`` does."""

from zoning.cli import main

main()
