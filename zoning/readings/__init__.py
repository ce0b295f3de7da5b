"""Files to checked tables: settings, cone logs, pits and vector layers of one field folder."""

from zoning.readings.field import read_field

__all__ = ["read_field"]
