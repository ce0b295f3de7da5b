"""What the fields of a batch take together, by hand."""

from __future__ import annotations

import re

import pytest

from zoning.batch.sums import cost_words, counts, machines


def row(**more: object) -> dict:
    made = {"status": "planned", "area_ha": 4.0, "worked_ha": 3.0, "work_h": 2.0, "fuel_l": 50.0}
    made |= {"lifted_h": 0.0, "lifted_fuel_l": 0.0, "cost": 100.0, "currency": "EUR"}
    return {**made, "priced": "fuel; labour", "machine": "seven-leg", "cautions": "", **more}


def cells(text: str) -> list[list[str]]:
    rows = re.findall("<tr>(.*?)</tr>", text)
    return [re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", one) for one in rows]


def test_costs_of_one_currency_are_added_up_and_say_what_they_are_for() -> None:
    told = counts([row(), row(cost=220.4), row(status="refused", cost=None)])
    assert "Cost for fuel, labour: EUR 320." in told
    assert "2 with a plan (8.0 ha, 6.0 ha of it worked), 1 without." in told
    assert "4.0 h of work. 100 l of fuel." in told


def test_costs_of_several_currencies_are_never_added() -> None:
    told = counts([row(), row(currency="GBP", cost=70.0), row(currency=""), row(cost=None)])
    assert "Cost for fuel, labour: 100 (currency not given) + EUR 100 + GBP 70 " in told
    assert "(not known of 1 field)." in told
    assert "Cost" not in counts([row(cost=None), row(cost=float("nan"))])


def test_unlike_prices_are_told() -> None:
    told = counts([row(), row(priced="fuel")])
    assert "Cost: EUR 200. Not every field has a price for the same: see below each cost." in told


def test_what_goes_over_lifted_ground_is_told_of_the_sum() -> None:
    told = counts([row(lifted_h=1.46, lifted_fuel_l=28.0), row(lifted_h=None, lifted_fuel_l=None)])
    assert "Of these 1.5 h and 28 l over ground where the legs are lifted out." in told
    assert "Of these" not in counts([row()])


def test_one_machine_needs_no_table_and_several_have_a_row_each() -> None:
    assert machines([row(), row(), row(status="failed", machine=None)]) == ""
    two = machines(
        [row(), row(machine="five-leg, pins", fuel_l=None, cost=None), row(currency="GBP")]
    )
    head, five, seven = cells(two)
    assert head == ["machine", "fields", "worked, ha", "work, h", "fuel, l", "cost"]
    assert five == ["five-leg, pins", "1", "3.0", "2.0", "not known", "not known"]
    assert seven == ["seven-leg", "2", "6.0", "4.0", "100", "EUR 100 + GBP 100"]


@pytest.mark.parametrize(
    ("cost", "currency", "words"), [(164.87, "EUR", "EUR 165"), (3.0, "", "3 (currency not given)")]
)
def test_money_is_told_with_its_currency(cost: float, currency: str, words: str) -> None:
    assert cost_words(cost, currency) == words
