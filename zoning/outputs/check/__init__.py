"""The files of an after-work check: table, map, page and account."""
