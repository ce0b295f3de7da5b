"""A plan folder read back, file by file."""
