"""Parts of the field: where it has been driven on, and where hazards bound the depth."""

from zoning.parts.divide import partition
from zoning.parts.hazards import hazard_zones
from zoning.parts.lookup import part_of

__all__ = ["hazard_zones", "part_of", "partition"]
