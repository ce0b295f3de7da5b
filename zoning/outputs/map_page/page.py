"""``map.html``: one page with the map, the tables and the still drawing, that asks for nothing.

Style and scripts stand in the page and are named by their hashes in its content security policy,
so nothing else can run; all text of the user's reaches the page as escaped HTML or as JSON data.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from html import escape
from importlib.metadata import distribution
from importlib.resources import files
from pathlib import Path
from typing import Any

from zoning.contracts import constant
from zoning.contracts import rows as table_rows
from zoning.errors import OutputFailed
from zoning.model import Plan
from zoning.outputs.bars import check_bar, check_line, doubt_bar, rating_bar, stop_bars, tractor_bar
from zoning.outputs.cleared import not_cleared_line, not_cleared_words
from zoning.outputs.drawing.plan import plan_drawing
from zoning.outputs.fingerprint import short_id
from zoning.outputs.geojson import check_depths
from zoning.outputs.map_page.data import (
    assumed_short,
    assumed_words,
    cautions_in_order,
    guessed_parts,
    map_document,
    notes_in_order,
)
from zoning.outputs.map_page.places import RULES
from zoning.outputs.plain import write_text
from zoning.outputs.reading_rows import reading_dates
from zoning.outputs.sheet.words import ASK_FIRST, before_digging

SCRIPTS = (
    "data.js", "look.js", "chart.js", "layers.js", "hazards.js", "labels.js", "detail.js",
    "tables.js", "measure.js", "position.js", "start.js",
)  # fmt: skip
NO_CAUTION = "Cautions: none recorded"
_HELD = ' class="held"'
_LIBRARY = "django-js-lib-leaflet"
_HOLE = re.compile(r"\{\{(\w+)\}\}")
_DATA = re.compile(r'<script type="application/json" id="plan-data">(.*?)</script>', re.DOTALL)
_UNSAFE = str.maketrans(
    {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026", "\u2028": "\\u2028", "\u2029": "\\u2029"}
)


@lru_cache(maxsize=1)
def map_html(plan: Plan) -> str:
    """Return the map page of a plan, the same text for the same plan.

    The last is kept, so that reading the file back does not draw it a second time.
    """
    width, height = constant(RULES, "print_width_mm"), constant(RULES, "print_height_mm")
    name, short = plan.settings.field.name, short_id(plan.plan_id)
    return page(
        {
            "title": escape(f"{name}: working depths, plan {short}"),
            "field": escape(name),
            "about": escape(_about(plan)),
            "short_id": short,
            "full_id": plan.plan_id,
            "lead": _lead(plan),
            "how_many": _how_many(plan),
            "warnings": _warnings(plan),
            "first_warnings": _first_warnings(plan),
            "assumed": _paragraph("assumed", _assumed_sign(plan)),
            "drawing": plan_drawing(plan, width, height),
            "cautions": _listed(cautions_in_order(plan)[1:]),
            "place_words": escape(f"Computed in {_system(plan)}; shown in WGS 84."),
            "data": data_text(map_document(plan)),
        }
    )


def page(pieces: Mapping[str, str]) -> str:
    """Return the page with `pieces` (HTML each) in its template, and with style and scripts.

    Raises
    ------
    KeyError
        If the template needs a piece that is not there.
    """
    style, leaflet, script = _style(), _library("leaflet.js"), _scripts()
    policy = (
        "default-src 'none'; img-src data: blob:; base-uri 'none'; form-action 'none'; "
        f"style-src {_digest(style)}; script-src {_digest(leaflet)} {_digest(script)}"
    )
    held = {
        **pieces,
        "policy": policy,
        "style": style,
        "leaflet": leaflet,
        "script": script,
        "leaflet_version": distribution(_LIBRARY).version.rpartition(".")[0],
        "leaflet_licence": _licence(),
    }
    return _HOLE.sub(lambda hole: held[hole[1]], _file("map.html"))


def _lead(plan: Plan) -> str:
    """Return the line of caution that is always in sight: what may stop the plan, or the first.

    Where the black words do not tell of buried services, their caution in short goes before.
    """
    held = not_cleared_line(plan.zones, plan.settings)
    spade = [] if plan.settings.hazards.located else [ASK_FIRST.rstrip(".")]
    rating = escape(rating_bar(plan.rating)).replace(" (", "<small> (").replace("):", ")</small>:")
    doubt, weak = (bar(plan).partition(":")[0] for bar in (doubt_bar, tractor_bar))
    told = (doubt, rating, escape(weak), escape(_guessed_line(plan)))
    stops = [line for line in told if line]
    check = check_line(plan)
    first = [escape(line) for line in (check, held or _services_line(plan), *spade) if line]
    lines = "<br>".join([*first, *stops]) or escape((cautions_in_order(plan) or [NO_CAUTION])[0])
    return f"<strong{_HELD if held or check or stops else ''}>{lines}</strong>"


def _services_line(plan: Plan) -> str:
    """Return the caution on buried services in short, its limit first; nothing without one."""
    short = {row["code"]: row["short"] for row in table_rows("cautions")}
    codes = [notice.code for notice in plan.notices if notice.code.startswith("services-")]
    return short.get(codes[0], "") if codes else ""


def _guessed_line(plan: Plan) -> str:
    guessed = guessed_parts(plan)
    return f"GUESSED ground: {', '.join(guessed)}" if guessed else ""


def _how_many(plan: Plan) -> str:
    """Return how much stands behind the line; a narrow screen leaves out the notes."""
    told = _counted(len(cautions_in_order(plan)), "caution")
    notes = len(notes_in_order(plan))
    return f"{told}<small>, {_counted(notes, 'note')}</small>" if notes else told


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _warnings(plan: Plan) -> str:
    """Return what opens below that line: what is not cleared, every caution, every note."""
    notes = _listed(notes_in_order(plan))
    return (
        _held(plan)
        + _listed(cautions_in_order(plan))
        + (f"<h2>Notes</h2>\n{notes}" if notes else "")
    )


def _first_warnings(plan: Plan) -> str:
    """Return what stands on paper above whatever is printed."""
    first = "".join(
        f'<p class="first">{escape(text)}</p>\n' for text in cautions_in_order(plan)[:1]
    )
    return _held(plan) + first + _paragraph("assumed", assumed_words(plan))


def _held(plan: Plan) -> str:
    not_cleared = not_cleared_words(plan.zones, plan.settings)
    bars = [f"{bar}." for bar in stop_bars(plan)]
    told = [check_bar(plan), not_cleared, before_digging(plan), *bars]
    return "".join(_paragraph("held", words) for words in told)


def _paragraph(kind: str, words: str) -> str:
    """Return a paragraph of the class `kind`; nothing where there are no words."""
    return f'<p class="{kind}">{escape(words)}</p>\n' if words else ""


def _assumed_sign(plan: Plan) -> str:
    """Return the words that stand on the map whatever of it is shown."""
    return assumed_short(plan).capitalize().replace("assumed", "ASSUMED")


def data_text(document: Mapping[str, Any]) -> str:
    """Return a document as JSON that no HTML parser can read as anything else."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.translate(_UNSAFE)


def page_document(text: str) -> Any:
    """Return the data that a map page carries.

    Raises
    ------
    OutputFailed
        If the page carries none.
    """
    found = _DATA.search(text)
    if found is None:
        raise OutputFailed("The page carries no data.")
    return json.loads(found[1])


def write_map(plan: Plan, path: Path) -> None:
    """Write the map page; see `map_html`."""
    write_text(path, map_html(plan))


def check_map(plan: Plan, path: Path) -> None:
    """Refuse a page that is not, to the letter, the one of this plan.

    Raises
    ------
    OutputFailed
        If it differs.
    """
    text = path.read_text(encoding="utf-8")
    check_depths(plan, [zone["depth_cm"] for zone in page_document(text)["zones"]], path.name)
    if text != map_html(plan):
        raise OutputFailed(f"{path.name} did not read back as written.")


def _about(plan: Plan) -> str:
    season = plan.settings.field.season
    words = [f"Season {season}"] if season is not None else []
    area = float(plan.zones["area_ha"].sum())
    return ". ".join([*words, f"{area:.2f} ha", reading_dates(plan)]) + "."


def _system(plan: Plan) -> str:
    return plan.working_crs if len(plan.working_crs) <= 16 else "the field's own system"


def _listed(texts: Sequence[str]) -> str:
    lines = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f"<ol>{lines}</ol>" if texts else ""


def _digest(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


@cache
def _file(name: str) -> str:
    return files("zoning.outputs.map_page").joinpath("assets", name).read_text(encoding="utf-8")


@cache
def _library(name: str) -> str:
    """Return a file of Leaflet without its pointer to a source map."""
    folder = files("js_lib_leaflet").joinpath("static", "js_lib_leaflet")
    text = folder.joinpath(name).read_text(encoding="utf-8")
    return re.sub(r"\n//# sourceMappingURL=\S+\s*$", "\n", text)


@cache
def _style() -> str:
    """Return the style of Leaflet, without its pictures, and ours."""
    base = re.sub(r"(?:background-image|behavior):\s*url\([^)]*\);", "", _library("leaflet.css"))
    return f"{base}\n{_file('map.css')}"


@cache
def _scripts() -> str:
    return "\n".join(_file(name) for name in SCRIPTS)


@cache
def _licence() -> str:
    return (distribution(_LIBRARY).read_text("LICENSE") or "").strip()
