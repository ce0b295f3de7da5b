"""The limits of the check stand in their table, common practice marked as such."""

from __future__ import annotations

import pytest

from zoning.checks.rules import rule
from zoning.contracts import rows


def test_the_ridges_are_those_of_common_practice() -> None:
    # Common practice, no published source: about 3 cm is even, 10 cm and more is not.
    assert (rule("ridge_even_cm"), rule("ridge_uneven_cm")) == (3.0, 10.0)
    told = {row["name"]: row["status"] for row in rows("check_rules")}
    assert told["ridge_even_cm"] == told["ridge_uneven_cm"] == "practice"


def test_too_deep_is_two_inches() -> None:
    # USDA Forest Service 0834-2828: more than 2 in below the layer is too deep.
    assert rule("too_deep_cm") == pytest.approx(2 * 2.54)


def test_an_unknown_limit_is_named() -> None:
    with pytest.raises(KeyError, match="no row named"):
        rule("nothing")
