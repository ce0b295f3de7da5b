"""Headings as people write them, taken for the columns they can only mean."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from zoning.readings.rules import plain_name

_OTHER_WORDS = {
    "latitude": "lat",
    "longitude": "lon",
    "long": "lon",
    **{f"{word}_{unit}": "lat" for word in ("lat", "latitude") for unit in ("deg", "°")},
    **{f"{word}_{unit}": "lon" for word in ("lon", "longitude") for unit in ("deg", "°")},
    "easting_m": "easting",
    "northing_m": "northing",
}


def speller(known: Iterable[str]) -> Callable[[str], str]:
    """Return how headings are read: as the known one that differs in writing alone.

    Capitals, spaces, hyphens, underscores, brackets and marks make no difference, so that
    ``Depth (cm)`` is ``depth_cm``; ``Latitude`` and ``Longitude`` are ``lat`` and ``lon``, and a
    place may name its unit, ``Easting (m)``.
    Any other heading stays as it is.

    Parameters
    ----------
    known
        Headings that the table may have.
    """
    names = {plain_name(name): name for name in known}
    words = {word: names[name] for word, name in _OTHER_WORDS.items() if name in names}
    meant = {**words, **names}
    return lambda heading: meant.get(plain_name(heading), heading)
