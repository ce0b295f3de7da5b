"""What to say of points, wings and spacing."""

from __future__ import annotations

from collections.abc import Iterator

from zoning.checks.ground import Ground
from zoning.checks.places import telling
from zoning.checks.ran import ridge_cm
from zoning.checks.rules import rule
from zoning.checks.steps import OWN_SPEED, Step
from zoning.checks.trials import wanted_ridge_cm
from zoning.contracts import joined, rows
from zoning.units import tenths


def metal_steps(ground: Ground) -> Iterator[Step]:
    """Yield the look at points and wings, then what can be done about the spacing."""
    winged = ground.machine.point == "winged"
    told = ground.fast_ridge_words
    why = f"The pits of the faster runs show no less of a ridge ({told}). " if told else ""
    if not told and ground.denied_cm > wanted_ridge_cm():
        why = (
            f"Pits at {ground.curve.slowest_even_km_h:g} km/h or faster show a ridge of "
            f"{tenths(ground.denied_cm)} cm, though the trial runs were even there. "
        )
    carried = _carried(ground)
    waits = "" if carried or ground.after_speed == OWN_SPEED else ground.after_speed
    look = f"{waits}: look" if waits else "Look"
    text = (
        f"{why}{carried}{look} at the points{' and wings' if winged else ''}: worn or shorter ones "
        "break less soil. Change them in sets."
    )
    yield Step("points", text)
    closer = "" if legs_close_enough(ground) else "closer legs, "
    wings = "" if winged else "winged points, "
    start = f"{closer}{wings}or " if closer or wings else ""
    wide = _listed_cm(ground.legs_wide_cm)
    start = (
        f"the plan warns that the legs stand too far apart for {wide}: {start}" if wide else start
    )
    text = (
        f"Then spacing: {start}a second pass half a spacing aside "
        f"(legs stand {ground.machine.leg_spacing_cm:g} cm apart)."
    )
    yield Step("spacing", text)


def bare_ridge(ground: Ground, *, settled: bool) -> Iterator[Step]:
    """Yield what is said of uneven work that missed no pan and for which no speed is named.

    Only pits that count between the legs tell the ridge; only where the verdict is `settled` is
    the pan said to be passed.
    """
    left_cm = ridge_cm(telling(ground.pits))
    if not left_cm >= rule("ridge_uneven_cm"):
        return
    start = "The pan was passed, yet a" if settled else "A"
    text = (
        f"{start} ridge of {tenths(left_cm)} cm is left between the legs: that is uneven. Look at "
        "the points before the next field; dig again where the depth changes."
    )
    yield Step("points", text)


def _carried(ground: Ground) -> str:
    """Return what the plan warns of the foot, where it does, and what that asks for."""
    deep = _listed_cm(ground.foot_narrow_cm)
    if not deep:
        return ""
    why = (
        f"The plan warns that a foot {ground.machine.foot_width_cm:g} cm wide presses the soil "
        f"aside at {deep} rather than lifting it"
    )
    cure = "wings, wider feet or leading tines"
    if ground.after_speed:
        return f"{why}. {ground.after_speed}: {cure}. "
    return f"{why}: {cure} come first. "


def _listed_cm(depths: list[float]) -> str:
    return joined([f"{depth:g} cm" for depth in depths])


def legs_close_enough(ground: Ground) -> bool:
    """Return whether a depth of the ground calls for wider legs, by the rule that plans go by."""
    machine, worked = ground.machine, ground.worked["depth_cm"]
    leading = machine.point == "winged" and machine.leading_tines
    points = "winged_after_leading_tines" if leading else machine.point
    closest = next(
        float(row["closest"]) for row in rows("spacing_rules") if row["points"] == points
    )
    return bool((machine.leg_spacing_cm < closest * worked).any())
