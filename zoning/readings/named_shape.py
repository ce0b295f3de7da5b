"""One field among the shapes of a farm."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from zoning.model import Notice
from zoning.readings.features import Feature, Layer
from zoning.readings.rules import listed


def named_shape(layer: Layer, name: str) -> Layer:
    """Return the shapes that bear the name of the field, where others of the file do not.

    Capitals and spaces make no difference; the attribute may have any heading. Where two attributes
    name different shapes nothing is chosen.

    Parameters
    ----------
    layer
        The boundary file.
    name
        ``field.name``.

    Returns
    -------
    Layer
        With a notice of what was taken and what was left out; `layer` itself where no shape, or
        every shape, bears the name.
    """
    wanted = _plain(name)
    bearers: dict[str, list[Feature]] = {}
    for feature in layer.features:
        for key, value in feature.properties.items():
            if isinstance(value, str) and _plain(value) == wanted:
                bearers.setdefault(key, []).append(feature)
    fewest = min(map(len, bearers.values()), default=0)
    clear = {k: found for k, found in sorted(bearers.items()) if len(found) == fewest}
    sets = {tuple(feature.number for feature in found) for found in clear.values()}
    if len(sets) != 1 or fewest == len(layer.features):
        return layer
    key, taken = next(iter(clear.items()))
    notice = Notice("note", "boundary-by-name", _told(layer, key, taken, name))
    return replace(layer, features=tuple(taken), notices=(*layer.notices, notice))


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()


def _told(layer: Layer, key: str, taken: list[Feature], name: str) -> str:
    numbers = {feature.number for feature in taken}
    others = [
        _called(f.properties, key, f.number) for f in layer.features if f.number not in numbers
    ]
    one = "the one" if len(taken) == 1 else f"the {len(taken)}"
    return (
        f"{layer.file}: of its {len(layer.features)} shapes {one} whose {key} is '{name}' "
        f"{'is' if len(taken) == 1 else 'are'} planned. Left out: {listed(others)}."
    )


def _called(properties: Mapping[str, object], key: str, number: int) -> str:
    value = properties.get(key)
    return value.strip()[:40] if isinstance(value, str) and value.strip() else f"shape {number}"
