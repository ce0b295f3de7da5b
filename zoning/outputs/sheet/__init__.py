"""The operator's sheet and the picture of a plan, set by typst."""
