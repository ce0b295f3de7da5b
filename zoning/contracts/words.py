"""Words of the files that several rooms write and read."""

PARTS = ("body", "headland", "wheeling", "gateway")
"""The parts of a field that have no name of their own."""
NOT_CLEARED = "NOT CLEARED"
"""The word of a zone where work is deeper than notice depth and services were not located."""
