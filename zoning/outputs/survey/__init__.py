"""The files of a survey: places, map, tables and the form for the field."""
