"""The overview page: whole, harmless, and every plan within reach."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from itertools import combinations
from pathlib import Path
from urllib.parse import unquote

import shapely

from zoning.batch.overview import overview_html
from zoning.batch.rules import rule

EMPTY = dict.fromkeys(
    ("name", "season", "plan_id", "area_ha", "stations", "depths", "mean_depth_cm", "loss_cm",
     "single_depth_loss_cm", "work_h", "fuel_l", "lifted_h", "lifted_fuel_l", "worked_ha", "cost",
     "currency", "priced", "cautions", "seconds", "peak_memory_mb")
)  # fmt: skip


def row(field: str, **more: object) -> dict:
    made = {**EMPTY, "field": field, "status": "planned", "name": field, "area_ha": 2.0}
    made |= {"error": "", "map": f"{field}/plan/map.html", "machine": "seven-leg"}
    made |= {"worked_ha": 2.0}
    return {**made, "mean_depth_cm": 35.0, "depths": "35", **more}


def square(lon: float, lat: float) -> bytes:
    return shapely.to_wkb(shapely.box(lon, lat, lon + 0.002, lat + 0.001))


class Page(HTMLParser):
    """Collects links and tags of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.tags: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [value for key, value in attrs if key in {"href", "src"}]


def test_every_plan_is_linked_from_map_and_table(planned: Path) -> None:
    page = Page((planned / "out" / "batch.html").read_text(encoding="utf-8"))
    assert len(page.links) == 4
    for link in page.links:
        assert (planned / "out" / unquote(link)).resolve().is_file()


def test_the_number_of_each_plan_stands_by_its_field_as_on_its_own_page(planned: Path) -> None:
    text = (planned / "out" / "batch.html").read_text(encoding="utf-8")
    plans = sorted(planned.glob("farm/*/plan/plan.json"))
    assert len(plans) == 2
    for plan in plans:
        number = json.loads(plan.read_text(encoding="utf-8"))["plan_id"][:8]
        assert f"plan {number}<" in text
        assert number in (plan.parent / "map.html").read_text(encoding="utf-8")


def test_nothing_is_fetched_and_no_text_becomes_a_tag() -> None:
    evil = '"><script>alert(1)</script>'
    rows = [row("a", name=evil), row(evil, status="refused", error=evil)]
    page = Page(text := overview_html(rows, [square(0.1, 52.0), None]))
    assert "script" not in page.tags
    assert "&lt;script&gt;" in text
    assert not [link for link in page.links if "://" in link]
    assert "default-src 'none'" in text


def test_a_link_that_runs_something_leads_nowhere() -> None:
    page = Page(overview_html([row("a", map="javascript:alert(1)")], [square(0.1, 52.0)]))
    assert set(page.links) == {"#"}


def test_failures_are_told_first_with_their_reason() -> None:
    text = overview_html(
        [row("a"), row("b", status="set_aside", error="too little memory")], [None, None]
    )
    assert text.index("set aside: too little memory") < text.index('href="a/plan/map.html"')


def test_what_may_stop_a_plan_stands_in_its_row() -> None:
    rating = (
        "RATING: LITTLE COMPACTION (1 of 16 points over the limit): loosening is not called for"
    )
    codes = "check-stop-stands; machine-cannot-be-pulled; not-cleared"
    text = overview_html([row("a", cautions=codes, rating=rating)], [None])
    named = ("STOP BY THE CHECK: see the first caution", "NOT CLEARED", rating, "TRACTOR TOO WEAK")
    told = [text.index(f"<strong>{words}<") for words in named]
    assert told == sorted(told)
    assert "TRACTOR TOO WEAK" not in overview_html(
        [row("a", cautions="machine-pull-slower")], [None]
    )


def test_what_is_to_be_settled_first_is_named_the_gravest_first() -> None:
    codes = "hydraulics; machine-pull-slower; part-guessed; services-located; slopes; no-hazards"
    text = overview_html([row("a", cautions=codes)], [None])
    cell = text.partition('<td class="stop">')[2].partition("</td>")[0]
    assert re.findall("<li>(.*?)</li>", cell) == [
        "ground guessed: probe it",
        "services: read the locate",
        "no hazards declared: ask",
        "6 cautions in the plan",
    ]
    assert "see the plan" not in text


def test_a_field_too_small_for_its_number_has_it_beside_it_free_of_every_field() -> None:
    """Three fields far apart, so small on the paper that nothing fits into them."""
    outlines = [
        shapely.to_wkb(shapely.box(lon, lat, lon + 0.002, lat + 0.001))
        for lon, lat in ((0.0, 52.0), (0.4, 52.2), (0.402, 52.2))
    ]
    text = overview_html([row("a"), row("b"), row("c")], outlines)
    drawn = text.partition("<table>")[0]
    for kind in ("desk", "phone"):
        found = re.findall(r"<text[^>]*>[123]</text>", drawn)
        held = [one for one in found if f'class="{kind}"' in one]
        assert sorted(one[-8] for one in held) == ["1", "2", "3"]
        boxes = [number_box(one) for one in held]
        fields = [shapely.box(*field_bounds(d)) for d in re.findall(r'd="([^"]+)"', drawn)]
        assert len(fields) >= 3
        assert not any(box.intersects(field) for box in boxes for field in fields)
        assert not any(a.intersects(b) for a, b in combinations(boxes, 2))


def number_box(element: str) -> shapely.Polygon:
    """Room of a number of one figure, in the middle of which its text is anchored [mm]."""
    x, y, size = (
        float(re.search(rf'{name}="([-\d.]+)', element)[1]) for name in (" x", " y", "font-size")
    )
    return shapely.box(x - 0.3 * size, y - 0.7 * size, x + 0.3 * size, y)


def field_bounds(d: str) -> tuple[float, float, float, float]:
    numbers = [float(found) for found in re.findall(r"-?[\d.]+", d)]
    return min(numbers[::2]), min(numbers[1::2]), max(numbers[::2]), max(numbers[1::2])


def test_ground_that_waits_for_its_services_is_told() -> None:
    waits = overview_html([row("a", cautions="drains; not-cleared", depths="0; 36")], [None])
    assert "<strong>NOT CLEARED</strong>" in waits
    assert '<td class="wrap">lifted, 36</td>' in waits
    assert "<strong>NOT CLEARED</strong>" not in overview_html(
        [row("a", cautions="drains")], [None]
    )


def test_fields_on_both_sides_of_longitude_180_lie_side_by_side() -> None:
    text = overview_html([row("a"), row("b")], [square(179.996, -17.0), square(-179.999, -17.0)])
    starts = [float(x) for x in re.findall(r'd="M ?([\d.]+)', text)]
    assert len(starts) == 2
    widths = 264.0 / 7  # the two squares of 2 and the gap of 3 thousandths of a degree
    assert abs(starts[1] - starts[0]) < 6 * widths


def test_a_batch_without_any_plan_has_a_page_too() -> None:
    bare = {**EMPTY, "field": "a", "status": "failed", "error": "no", "map": ""}
    assert "0 with a plan" in overview_html([bare], [None])


def test_very_many_fields_are_cut_with_a_word() -> None:
    most = int(rule("overview_most_fields"))
    text = overview_html([row(f"f{n}") for n in range(most + 5)], [None] * (most + 5))
    assert "5 further fields" in text


def test_hours_and_fuel_are_added_up_and_what_is_not_known_is_told() -> None:
    rows = [row("a", work_h=5.5, fuel_l=290.0), row("b", work_h=2.25), row("c", work_h=1.0)]
    text = overview_html(rows, [None] * 3)
    assert "8.8 h of work. " in text
    assert "290 l of fuel (not known of 2 fields). " in text
    assert '<td class="n">2.2</td><td class="n">not known</td><td class="n">not known</td>' in text


def test_depths_of_an_assumed_machine_say_so() -> None:
    text = overview_html([row("a", cautions="assumed-machine"), row("b", depths="36")], [None] * 2)
    assert '<td class="wrap">35 (machine ASSUMED)</td>' in text
    assert '<td class="wrap">36</td>' in text


def test_fields_with_room_carry_their_name_on_the_map() -> None:
    rows = [row("Long Meadow"), row("sliver")]
    sliver = shapely.to_wkb(shapely.box(0.104, 52.0, 0.10401, 52.001))
    text = overview_html(rows, [square(0.1, 52.0), sliver])
    drawn = text.partition("<table>")[0]
    assert re.search("<text[^>]*>Long Meadow</text>", drawn)
    assert not re.search("<text[^>]*>sliver</text>", drawn)


def test_the_caution_stands_before_everything() -> None:
    text = overview_html([row("a")], [None])
    assert text.index('class="warn"') < text.index('href="a/plan/map.html"')


def test_the_season_is_told_once_where_it_is_one_and_in_a_column_where_they_differ() -> None:
    one = overview_html([row("a", season=2026), row("b", season=2026)], [None] * 2)
    assert "<h1>Fields of the batch, season 2026</h1>" in one
    assert ">season</th>" not in one
    two = overview_html([row("a", season=2026), row("b", season=2025)], [None] * 2)
    assert "<h1>Fields of the batch</h1>" in two
    assert ">season</th>" in two
    assert re.search(r"1\. a<.*?>2026</td>.*?2\. b<.*?>2025</td>", two)
    assert "season" not in overview_html([row("a")], [None])


def test_a_field_too_small_for_its_name_carries_its_number_of_the_table() -> None:
    rows = [row("x", status="refused", error="no"), row("Long Meadow"), row("Church Close by Mill")]
    field = shapely.to_wkb(shapely.box(0.104, 52.0, 0.1044, 52.001))
    text = overview_html(rows, [None, square(0.1, 52.0), field])
    assert re.search('<text[^>]*class="desk"[^>]*>Long Meadow</text>', text)
    assert re.search('<text[^>]*class="desk"[^>]*>2</text>', text)
    assert ">2. Church Close by Mill</a>" in text
    assert re.findall('<text[^>]*class="phone"[^>]*>(.*?)</text>', text) == ["1", "2"]


def test_a_field_with_next_to_nothing_to_loosen_is_not_drawn_in_the_tone_of_its_few_metres() -> (
    None
):
    little = row("Chalk", area_ha=3.08, worked_ha=0.042, mean_depth_cm=23.2)
    rows = [little, row("Mere", mean_depth_cm=36.4), row("Kiln", mean_depth_cm=37.7)]
    outlines = [square(0.1, 52.0), square(0.104, 52.0), square(0.108, 52.0)]
    text = overview_html(rows, outlines)
    drawn = text.partition("<table>")[0]
    key = drawn.partition('<p class="key">')[2].partition("</p>")[0]
    assert re.findall(r"([\d.]+) to", key) == ["35", "37.5"]  # the tones are of the other two
    assert "mostly or wholly lifted" in key
    chalk, mere = (drawn.partition(f'aria-label="{n}')[2].partition("</a>")[0] for n in (1, 2))
    assert "worked 0.04 ha, mostly lifted" in chalk
    assert (chalk.count('fill="none"'), mere.count('fill="none"')) == (1, 0)  # hatched
    assert '<td class="n">0.04<br>mostly lifted</td>' in text
    assert "7.1 ha, 4.0 ha of it worked" in text
    assert "wholly lifted" not in overview_html(rows[1:], outlines[1:])


def test_a_batch_in_which_nothing_is_worked_has_a_map_without_depths() -> None:
    nothing = row("a", worked_ha=0.0, mean_depth_cm=None, depths="0")
    text = overview_html([nothing], [square(0.1, 52.0)])
    assert "mostly or wholly lifted" in text
    assert "Mean depth of the ground worked, cm:" not in text
    assert "worked none" in text
    assert '<td class="n">none</td>' in text


def test_cost_and_machine_stand_in_the_row_of_each_field() -> None:
    text = overview_html(
        [row("a", cost=413.3, currency="EUR", priced="fuel", machine="five-leg <pins>"), row("b")],
        [None] * 2,
    )
    assert '<td class="n">EUR 413</td><td class="wrap">five-leg &lt;pins&gt;</td>' in text
    assert '<td class="n">not known</td><td class="wrap">seven-leg</td>' in text


def test_what_each_cost_is_for_stands_below_it_where_fields_differ() -> None:
    both = [
        row("a", cost=413.3, currency="EUR", priced="fuel; labour"),
        row("b", cost=99.6, currency="EUR", priced="machine"),
        row("c"),
    ]
    text = overview_html(both, [None] * 3)
    assert "Not every field has a price for the same: see below each cost." in text
    assert '<td class="n">EUR 413<br><span class="wrap">for fuel, labour</span></td>' in text
    assert '<td class="n">EUR 100<br><span class="wrap">for machine</span></td>' in text
    assert '<td class="n">not known</td>' in text
