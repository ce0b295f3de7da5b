"""How deep to work: the cost of a depth, the few depths worth setting, passes and zones."""
