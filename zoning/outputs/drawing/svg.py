"""The few SVG elements a plan is drawn with: presentation attributes only, no styles, no ids."""

from __future__ import annotations

from html import escape

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

FONT = "DejaVu Sans, Noto Sans, Liberation Sans, Arial, Helvetica, Libertinus Serif, sans-serif"
Value = str | float | int


def element(name: str, content: str = "", /, **attributes: Value) -> str:
    """Return one element; ``a_b`` becomes ``a-b``, numbers get two decimals."""
    told = "".join(
        f' {key.replace("_", "-")}="{_text(value)}"' for key, value in attributes.items()
    )
    return f"<{name}{told}>{content}</{name}>" if content else f"<{name}{told}/>"


def text(content: str, x: float, y: float, size: float, **attributes: Value) -> str:
    """Return a line of text whose baseline starts at `x`, `y`; `content` is escaped."""
    return element("text", escape(content), x=x, y=y, font_size=size, **attributes)


def path(geometry: BaseGeometry, **attributes: Value) -> str:
    """Return lines and polygons as one path; nothing for an empty geometry."""
    lines = [_line(part) for part in _lines(geometry)]
    return element("path", d="".join(lines), fill_rule="evenodd", **attributes) if lines else ""


def document(content: str, width: float, height: float, title: str) -> str:
    """Return a whole drawing of `width` by `height` millimetres."""
    return element(
        "svg",
        element("title", escape(title)) + content,
        xmlns="http://www.w3.org/2000/svg",
        width=f"{width:g}mm",
        height=f"{height:g}mm",
        viewBox=f"0 0 {width:g} {height:g}",
        role="img",
        aria_label=title,
        font_family=FONT,
    )


def _text(value: Value) -> str:
    return escape(value) if isinstance(value, str) else f"{value + 0.0:.2f}".rstrip("0").rstrip(".")


def _lines(geometry: BaseGeometry) -> list[BaseGeometry]:
    rings: list[BaseGeometry] = []
    for part in shapely.get_parts(geometry):
        if part.geom_type == "GeometryCollection":
            rings += _lines(part)
        elif part.geom_type == "Polygon":
            rings += [] if part.is_empty else [part.exterior, *part.interiors]
        elif part.geom_type in ("LineString", "LinearRing") and not part.is_empty:
            rings.append(part)
    return rings


def _line(line: BaseGeometry) -> str:
    xy: NDArray[np.float64] = np.round(shapely.get_coordinates(line), 2) + 0.0
    closed = line.geom_type == "LinearRing"
    points = [f"{x:g} {y:g}" for x, y in (xy[:-1] if closed else xy)]
    return f"M{'L'.join(points)}{'Z' if closed else ''}"
