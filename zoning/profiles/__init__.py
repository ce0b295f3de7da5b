"""Profiles: what each insertion shows, what a station says, and whether loosening is called for.

::

    clean -> stones -> layers -> verdicts -> reasons      interpretation.interpret
    insertions + pits -> combine, pits -> stations        stations.join_stations, pits.heard
    insertions -> rating.rate, further.deeper_notices
    pits, cone -> moisture.moisture_notices
"""

from zoning.profiles.further import deeper_notices
from zoning.profiles.interpretation import interpret
from zoning.profiles.moisture import moisture_notices
from zoning.profiles.pits import at_pit, heard
from zoning.profiles.rating import rate
from zoning.profiles.stations import join_stations, told_apart

__all__ = [
    "at_pit",
    "deeper_notices",
    "heard",
    "interpret",
    "join_stations",
    "moisture_notices",
    "rate",
    "told_apart",
]
