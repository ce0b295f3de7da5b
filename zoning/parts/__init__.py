"""Parts of the field: where it has been driven on, and where hazards bound the depth."""

from zoning.parts.hazards import hazard_zones
from zoning.parts.lookup import part_of
from zoning.parts.partition import partition

__all__ = ["hazard_zones", "part_of", "partition"]
