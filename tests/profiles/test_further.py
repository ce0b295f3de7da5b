"""Stations where a further hard layer lies below the pan that was taken."""

from __future__ import annotations

from zoning.profiles import deeper_notices

NAN = float("nan")


def test_stations_are_counted_once_and_named(insertions_of) -> None:
    rows = [
        {"station": "A", "deeper_cm": 34.0},
        {"station": "A", "deeper_cm": 36.0},
        {"station": "B", "deeper_cm": 48.0},
        {"station": "C", "deeper_cm": NAN},
        {"station": "D", "deeper_cm": 41.0, "verdict": "no_pan"},
    ]
    (notice,) = deeper_notices(insertions_of(rows))
    assert (notice.level, notice.code) == ("caution", "further-hard-layer")
    assert notice.text.startswith("At 2 of 3 cone stations that show a pan")
    assert "from 34 to 48 cm down: A, B." in notice.text
    assert "Dig there to see" in notice.text


def test_layers_deeper_than_pans_usually_lie_are_a_note(insertions_of) -> None:
    (notice,) = deeper_notices(insertions_of([{"deeper_cm": 46.0}]))
    assert notice.level == "note"
    assert notice.text.startswith("At the one cone station that shows a pan")
    assert "from 46 cm down" in notice.text


def test_no_station_in_a_keep_off_is_to_be_dug_at(insertions_of) -> None:
    rows = [{"station": name, "deeper_cm": 46.0} for name in ("K06", "K07")]
    (some,) = deeper_notices(insertions_of(rows), kept_off=("K06", "K01"))
    assert some.text.endswith(", but not at K06: a keep-off lies there or right beside.")
    (none,) = deeper_notices(insertions_of(rows), kept_off=("K06", "K07"))
    assert "Do not dig there to see" in none.text
    assert "Dig there" not in none.text


def test_nothing_further_is_nothing_to_tell(insertions_of) -> None:
    assert deeper_notices(insertions_of([{"deeper_cm": NAN}])) == ()


def test_a_further_layer_in_dry_soil_may_be_dryness(insertions_of) -> None:
    rows = [
        {"station": name, "deeper_cm": 45.0, "moisture": moisture}
        for name, moisture in (("A", "dry"), ("B", "friable"))
    ]
    assert "dry at 1 of them" in deeper_notices(insertions_of(rows))[0].text
    assert "dry at all of them" in deeper_notices(insertions_of(rows[:1]))[0].text
    assert "dry" not in deeper_notices(insertions_of(rows[1:]))[0].text
