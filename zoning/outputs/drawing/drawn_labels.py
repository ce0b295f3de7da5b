"""Labels as SVG: letters on the tone of their ground, or in a box with a line to it."""

from __future__ import annotations

from zoning.contracts import constant
from zoning.outputs.drawing.labels import RULES, Label, Labels, box_of, is_number, label_size_mm
from zoning.outputs.drawing.svg import element, path, text

_OUTLINE_MM = 0.7  # the heaviest line that ground is drawn with


def all_drawn(labels: Labels, signs: str = "") -> str:
    """Return the labels as SVG, their lines beneath every label and beneath `signs`."""
    led = [leader(label) for label in labels.placed if label.anchor]
    return "".join([*led, signs, *[drawn(label) for label in labels.placed]])


def drawn(label: Label) -> str:
    """Return a label as SVG: in a box that has an edge where it stands beside its ground."""
    _, height = label_size_mm(label.head, label.foot, label.size)
    head_mm = constant(RULES, "number_mm") * label.size
    foot_mm = constant(RULES, "depth_mm") * label.size
    top = label.y_mm - height / 2
    middle = {"text_anchor": "middle", "fill": label.colour}
    parts = [_back(label)]
    if label.turned_deg:
        turn = f"rotate({label.turned_deg:.1f} {label.x_mm:.2f} {label.y_mm:.2f})"
        return "".join([*parts, element("g", _head(label), transform=turn)])
    parts.append(_head(label))
    if label.foot:
        parts.append(
            text(label.foot, label.x_mm, top + head_mm + 0.95 * foot_mm, foot_mm, **middle)
        )
    return "".join(parts)


def leader(label: Label) -> str:
    """Return the line from a label to its ground."""
    x, y = label.anchor or (label.x_mm, label.y_mm)
    ends = {"x1": label.x_mm, "y1": label.y_mm, "x2": x, "y2": y}
    line = element("line", **ends, stroke="#fff", stroke_width=0.9)
    line += element("line", **ends, stroke="#000", stroke_width=0.3)
    if not is_number(label.head):
        return line
    return line + element(
        "circle", cx=x, cy=y, r=0.6, fill="#000", stroke="#fff", stroke_width=0.25
    )


def _head(label: Label) -> str:
    _, height = label_size_mm(label.head, label.foot, label.size)
    head_mm = constant(RULES, "number_mm") * label.size
    base = label.y_mm - height / 2 + 0.88 * head_mm + 0.2 * label.size
    middle = {"text_anchor": "middle", "fill": label.colour}
    return text(label.head, label.x_mm, base, head_mm, font_weight="bold", **middle)


def _back(label: Label) -> str:
    if label.anchor:
        return path(box_of(label), fill=label.behind, stroke="#000", stroke_width=0.2)
    inner = box_of(label).buffer(-_OUTLINE_MM / 2, join_style="mitre")
    return path(inner, fill=label.behind, stroke="none")
