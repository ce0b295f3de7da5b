"""Files to checked tables: settings, cone logs, pits and vector layers of one field folder."""

from zoning.readings.field import read_field
from zoning.readings.toml_file import settings_from

__all__ = ["read_field", "settings_from"]
