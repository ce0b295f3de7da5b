"""How deep to work: the cost of a depth, the few depths worth setting, passes and zones."""

from zoning.depths.caps import cap_of_pieces
from zoning.depths.drive import DepthChoice, choose_depths
from zoning.depths.lay import Laid, default_heading, lay_passes, piece_of
from zoning.depths.levels import choose_levels, depth_options
from zoning.depths.loss import expected_loss, needed_depth, probability_enough
from zoning.depths.offset import best_offset
from zoning.depths.places import Places, places_of
from zoning.depths.zones import kept_off, merge, runs, zone_of

__all__ = [
    "DepthChoice", "Laid", "Places", "best_offset", "cap_of_pieces", "choose_depths",
    "choose_levels", "default_heading", "depth_options", "expected_loss", "kept_off", "lay_passes",
    "merge", "needed_depth", "piece_of", "places_of", "probability_enough", "runs", "zone_of",
]  # fmt: skip
