"""The signs of pits, the same on every page: told by shape, never by colour alone.

A square is a pit before the work, a diamond one after it, a peg a place where to dig next; the
circle is left to cone stations. A square is full where the pit shows a pan. What stands in a
diamond is the verdict of the check.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from zoning.outputs.drawing.svg import element

Points = tuple[tuple[float, float], ...]

INK, PAPER, GREY, PEG = "#000000", "#ffffff", "#b9bdc1", "#8a1c00"
SQUARE: Points = ((-1, -1), (1, -1), (1, 1), (-1, 1))
DIAMOND: Points = ((0, -1.4), (1.4, 0), (0, 1.4), (-1.4, 0))
_PEG: Points = ((-1.5, -3.2), (1.5, -3.2), (1.5, -1.1), (0, 0), (-1.5, -1.1))
_CROSS: tuple[Points, ...] = (((-0.55, -0.55), (0.55, 0.55)), ((-0.55, 0.55), (0.55, -0.55)))
_ARROW: Points = ((-0.65, -0.35), (0.65, -0.35), (0, 0.75))
_BAR: tuple[Points, ...] = (((-0.6, 0), (0.6, 0)),)
_LEG: tuple[Points, ...] = (*_BAR, ((0, 0), (0, 0.95)))
_UNSEEN: tuple[Points, ...] = (
    ((-0.6, -0.35), (0.6, -0.35)), ((0, 0), (0, 0.2)), ((0, 0.6), (0, 0.8)),
)  # fmt: skip
_GAP: Points = ((0, -0.7), (0.7, 0), (0, 0.7), (-0.7, 0))
_H: tuple[Points, ...] = (
    ((-0.42, -0.5), (-0.42, 0.5)), ((0.42, -0.5), (0.42, 0.5)), ((-0.42, 0), (0.42, 0)),
)  # fmt: skip
_STOP: tuple[Points, ...] = (
    ((-0.35, -1.05), (0.35, -1.05), (0.35, 0.2), (-0.35, 0.2)),
    ((-0.35, 0.25), (0.35, 0.25), (0.35, 0.95), (-0.35, 0.95)),
)
_ASK: tuple[Points, ...] = (
    ((-0.4, -0.4), (-0.2, -0.75)), ((-0.2, -0.75), (0.2, -0.75)), ((0.2, -0.75), (0.4, -0.4)),
    ((0.4, -0.4), (0, 0)), ((0, 0), (0, 0.3)), ((0, 0.7), (0, 0.78)),
)  # fmt: skip
_HALF: Points = ((-1.4, 0), (1.4, 0), (0, 1.4))


@dataclass(frozen=True, slots=True)
class PitSign:
    """One sign; lengths in halves of the side of the square, y downwards, the place at 0, 0.

    Parameters
    ----------
    words
        What it stands for.
    outline, fill
        The shape and its ground.
    inner, inner_fill
        Shapes and strokes inside, and the ground of the shapes.
    """

    words: str
    outline: Points
    fill: str = PAPER
    inner: tuple[Points, ...] = ()
    inner_fill: str = "none"

    @property
    def ink(self) -> str:
        """Colour of the outline and of what stands inside."""
        return INK if self.fill in (PAPER, GREY, INK) else PAPER


PIT_SIGNS: Mapping[str, PitSign] = MappingProxyType(
    {
        "pan": PitSign("pit before: pan", SQUARE, INK),
        "before": PitSign("pit before: no pan, or not looked for", SQUARE),
        "after": PitSign("pit after: not judged", DIAMOND),
        "reached": PitSign("pit after: reached", DIAMOND, INK),
        "too_deep": PitSign("pit after: reached, too deep", DIAMOND, INK, (_ARROW,), PAPER),
        "leg_only": PitSign("pit after: reached at the leg only", DIAMOND, PAPER, (_HALF,), INK),
        "leg_passed": PitSign(
            "pit after: reached at the leg, between not counted", DIAMOND, PAPER, (_HALF,), GREY
        ),
        "not_reached": PitSign("pit after: not reached", DIAMOND, PAPER, _CROSS),
        "not_between": PitSign(
            "pit after: not reached between legs (at the leg: not settled)",
            DIAMOND,
            PAPER,
            _CROSS[:1],
        ),
        "past_cap": PitSign(
            "pit after: worked deeper than a hazard allows", DIAMOND, INK, _STOP, PAPER
        ),
        "held": PitSign("pit after: held by a hazard", DIAMOND, PAPER, _H),
        "leg_not_seen": PitSign(
            "pit after: near a hazard, leg not measured", DIAMOND, PAPER, _UNSEEN
        ),
        "lifted_out": PitSign("pit after: legs lifted out here", DIAMOND, PAPER, _BAR),
        "worked_lifted": PitSign(
            "pit after: loosened where the legs were to be lifted", DIAMOND, PAPER, _LEG
        ),
        "not_worked": PitSign(
            "pit after: not worked, a missed strip", DIAMOND, GREY, (_GAP,), PAPER
        ),
        "questioned": PitSign(
            "pit after: in doubt, what was noted does not go together", DIAMOND, PAPER, _ASK
        ),
        "dig": PitSign("dig here next", _PEG, PEG),
    }
)
"""Name of a sign to the sign; those of pits after the work bear the name of their verdict."""


def sign_name(phase: str, pan: str = "", verdict: str = "") -> str:
    """Return the name of the sign of a pit: by its phase, what it shows and how it was judged."""
    if phase == "before":
        return "pan" if pan == "yes" else "before"
    return verdict if verdict in PIT_SIGNS else "after"


def pit_sign(name: str, x: float, y: float, half: float) -> str:
    """Return a sign as SVG about a place; `half` is half the side of the square."""
    sign = PIT_SIGNS[name]

    def drawn(points: Points, fill: str, stroke: str, width: float) -> str:
        return element("path", d=outline(points, x, y, half), fill=fill, stroke=stroke,
                       stroke_width=width * half, stroke_linejoin="round")  # fmt: skip

    parts = [drawn(sign.outline, "none", PAPER, 0.8), drawn(sign.outline, sign.fill, sign.ink, 0.3)]
    parts += [drawn(points, sign.inner_fill, sign.ink, 0.3) for points in sign.inner]
    return "".join(parts)


def outline(points: Points, x: float, y: float, half: float) -> str:
    """Return points as the outline of a path, closed where they are more than two."""
    told = "L".join(f"{x + a * half:.2f} {y + b * half:.2f}" for a, b in points)
    return f"M{told}{'Z' if len(points) > 2 else ''}"
