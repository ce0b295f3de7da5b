"""What the fields of a batch take together: in a sentence, and machine by machine."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from zoning.batch.job import DONE
from zoning.batch.settle import waits_for_services
from zoning.batch.style import scrolled
from zoning.contracts import NOT_CLEARED

Row = Mapping[str, Any]
UNKNOWN = "not known"
NO_CURRENCY = "currency not given"


def known(value: float | None) -> bool:
    """Return whether a figure is known."""
    return value is not None and math.isfinite(value)


def counts(table: Sequence[Row]) -> str:
    """Return how many fields have a plan, what they take, and how many wait for services."""
    with_plan = [row for row in table if row["status"] in DONE]
    area_ha = sum(row["area_ha"] for row in with_plan)
    worked = _total(with_plan, "worked_ha", 1)
    hectares = f"{area_ha:.1f} ha" + (f", {worked} ha of it worked" if worked != UNKNOWN else "")
    waiting = sum(waits_for_services(row) for row in with_plan)
    first = f"{_fields(len(table))}: {len(with_plan)} with a plan ({hectares})"
    sentences = (
        f"{first}, {len(table) - len(with_plan)} without.",
        _sentence(with_plan, "work_h", "h of work", 1),
        _sentence(with_plan, "fuel_l", "l of fuel", 0),
        _lifted(with_plan),
        *_costs(with_plan),
        f"{waiting} of {len(with_plan)} {NOT_CLEARED} of services.",
    )
    return " ".join(sentence for sentence in sentences if sentence)


def machines(table: Sequence[Row]) -> str:
    """Return a table of what each machine does; blank where there is one alone."""
    with_plan = [row for row in table if row["status"] in DONE]
    names = sorted({str(row["machine"]) for row in with_plan})
    if len(names) < 2:
        return ""
    heads = "".join(f'<th scope="col" class="n">{head}</th>' for head in _HEADS)
    body = "".join(
        _machine_row(name, [row for row in with_plan if row["machine"] == name]) for name in names
    )
    head = f'<thead><tr><th scope="col">machine</th>{heads}</tr></thead>'
    sums = f"<table>{head}<tbody>{body}</tbody></table>"
    return f"<section>{scrolled(sums, 'Sums by machine', few=True)}</section>"


_HEADS = ("fields", "worked, ha", "work, h", "fuel, l", "cost")


def _machine_row(name: str, rows: Sequence[Row]) -> str:
    cost = " + ".join(_by_currency(rows).values()) or UNKNOWN
    cells = (
        str(len(rows)),
        _total(rows, "worked_ha", 1),
        _total(rows, "work_h", 1),
        _total(rows, "fuel_l", 0),
        cost,
    )
    told = "".join(f'<td class="n">{escape(cell)}</td>' for cell in cells)
    return f'<tr><th scope="row">{escape(name)}</th>{told}</tr>'


def _sentence(table: Sequence[Row], column: str, unit: str, places: int) -> str:
    told = _total(table, column, places, unit)
    return "" if told == UNKNOWN else f"{told}."


def _total(table: Sequence[Row], column: str, places: int, unit: str = "") -> str:
    """Return the sum of a column, with how many fields it does not know."""
    values = [row[column] for row in table if known(row[column])]
    if not values:
        return UNKNOWN
    missing = len(table) - len(values)
    without = f" (not known of {_fields(missing)})" if missing else ""
    return f"{sum(values):.{places}f} {unit}".rstrip() + without


def _lifted(table: Sequence[Row]) -> str:
    """Return what of work and fuel goes into ground where the legs are lifted out."""
    hours, litres = (
        sum(row[name] for row in table if known(row[name]))
        for name in ("lifted_h", "lifted_fuel_l")
    )
    if round(hours, 1) == 0:
        return ""
    fuel = f" and {litres:.0f} l" if round(litres) else ""
    return f"Of these {hours:.1f} h{fuel} over ground where the legs are lifted out."


def _costs(table: Sequence[Row]) -> list[str]:
    """Return what the fields cost, a sentence a currency."""
    sums = _by_currency(table)
    missing = sum(not known(row["cost"]) for row in table)
    if not sums:
        return []
    without = f" (not known of {_fields(missing)})" if missing else ""
    unlike = unlike_prices(table)
    of = "" if unlike else f" {next(_priced(row) for row in table if known(row['cost']))}"
    told = " Not every field has a price for the same: see below each cost." if unlike else ""
    return [f"Cost{of}: {' + '.join(sums.values())}{without}.{told}"]


def unlike_prices(table: Sequence[Row]) -> bool:
    """Return whether the costs of fields are not all for the same: fuel, machine, labour."""
    return len({row["priced"] for row in table if known(row["cost"])}) > 1


def cost_cell(row: Row, *, with_priced: bool) -> str:
    """Return the cell of the cost of a field, with what it is for below it where that is asked."""
    if not known(row["cost"]):
        return f'<td class="n">{UNKNOWN}</td>'
    below = f'<br><span class="wrap">{escape(_priced(row))}</span>' if with_priced else ""
    money = escape(cost_words(row["cost"], str(row["currency"] or "")))
    return f'<td class="n">{money}{below}</td>'


def _priced(row: Row) -> str:
    """Return what the cost of a field is for."""
    return f"for {str(row['priced']).replace('; ', ', ')}"


def _by_currency(table: Sequence[Row]) -> dict[str, str]:
    """Return the sum of the costs of each currency, with its name."""
    rows = [row for row in table if known(row["cost"])]
    names = sorted({str(row["currency"] or "") for row in rows})
    return {
        name: cost_words(sum(row["cost"] for row in rows if (row["currency"] or "") == name), name)
        for name in names
    }


def cost_words(cost: float, currency: str) -> str:
    """Return a sum of money with its currency."""
    return f"{currency} {cost:.0f}" if currency else f"{cost:.0f} ({NO_CURRENCY})"


def _fields(count: int) -> str:
    return f"{count} field{'' if count == 1 else 's'}"
