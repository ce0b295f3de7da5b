"""The account in the terminal where a field says little: no words about nothing."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pandas as pd
import pytest

from zoning.cli.summary import _comparison, _comparison_title, _rating, _readings, _trust
from zoning.model import Losses, Notice
from zoning.model.settings import MachineSection


def rating(points: int) -> pd.DataFrame:
    share = 0.5 if points else float("nan")
    row = {"part": "whole field", "points": points, "share": share, "rating": "", "loosen": ""}
    return pd.DataFrame([row])


def test_a_field_of_pits_alone_is_not_rated_in_per_cent() -> None:
    assert _rating(SimpleNamespace(rating=rating(0)))[1][2] == "not probed"
    assert _rating(SimpleNamespace(rating=rating(4)))[1][2] == "50 %"


def test_rows_left_blank_are_not_called_unusable() -> None:
    insertions = pd.DataFrame(
        {"n_readings": [9, 2, 0, 0], "verdict": ["no_pan", *["unusable"] * 3]}
    )
    stations = pd.DataFrame({"kind": ["cone", "pit"], "used": True})
    told = _readings(SimpleNamespace(stations=stations, insertions=insertions))
    assert told.endswith("Insertions: 1 no pan, 1 unusable, 2 without a reading")
    read = _readings(SimpleNamespace(stations=stations, insertions=insertions[:2]))
    assert read.endswith("Insertions: 1 no pan, 1 unusable")


def reckoned(losses: Losses, *codes: str) -> SimpleNamespace:
    machine = MachineSection(depth_min_cm=15, depth_step_cm=2.5, depth_max_cm=45)
    notices = [Notice("caution", code, "") for code in codes]
    settings = SimpleNamespace(machine=machine)
    return SimpleNamespace(losses=losses, notices=notices, settings=settings)


def test_depth_0_everywhere_is_called_no_work() -> None:
    losses = Losses(
        driven_cm=1.0,
        unconstrained_cm=1.0,
        single_depth_cm=0.0,
        single_depth_loss_cm=1.0,
        point95_depth_cm=15.0,
        point95_loss_cm=3.0,
    )
    assert _comparison(reckoned(losses))[3][0] == "no work at all"
    other = replace(losses, single_depth_cm=37.5)
    assert _comparison(reckoned(other))[3][0] == "one depth, 37.5 cm"


@pytest.mark.parametrize(
    ("depth_cm", "codes", "word"),
    [
        (45.0, (), "one depth for 95 %, 45 cm"),
        (45.0, ("machine-too-shallow",), "one depth for 95 %, or the deepest, 45 cm"),
        (42.5, ("machine-too-shallow",), "one depth for 95 %, 42.5 cm"),
    ],
)
def test_the_deepest_setting_is_not_called_enough_where_it_may_not_be(
    depth_cm: float, codes: tuple[str, ...], word: str
) -> None:
    losses = Losses(1.0, 1.0, 40.0, 1.0, depth_cm, 3.0)
    assert _comparison(reckoned(losses, *codes))[4][0] == word


def test_hazards_are_said_to_bind_every_choice_compared() -> None:
    assert "hazards" in _comparison_title(SimpleNamespace(hazards=[1]))
    assert "hazards" not in _comparison_title(SimpleNamespace(hazards=[]))


def test_no_station_left_out_gives_no_sentence_about_it() -> None:
    none = {"left_out": 0.0, "left_out_words": "Of 0 stations ..."}
    some = {"left_out": 5.0, "left_out_words": "Of 5 stations ..."}
    assert _trust(SimpleNamespace(surface_report=none, uncertain=[])) == ""
    assert _trust(SimpleNamespace(surface_report=some, uncertain=[])) == "Of 5 stations ..."
