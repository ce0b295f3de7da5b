"""The field form as PDF and the map of a survey as PNG, set by typst from one template."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

from zoning.contracts import rows
from zoning.model import Survey
from zoning.outputs.survey.drawing import hatched, key_words, survey_drawing
from zoning.outputs.survey.tables import survey_depths_cm
from zoning.outputs.typeset import LetterMissing, pdf, png

_TEMPLATE = files("zoning.outputs.survey").joinpath("form.typ").read_bytes()
_FORM = "The field form"
_FONTS = ["DejaVu Sans", "Noto Sans", "Liberation Sans", "Arial", "Libertinus Serif"]
_MAP_MM = (180.0, 230.0)


def form_pdf(survey: Survey) -> bytes:
    """Return the form to take to the field: tagged PDF (PDF/UA-1), one page of A4 across.

    Raises
    ------
    OutputFailed
        If the form cannot be set.
    """
    facts = {**_facts(survey), "kind": "form"}
    try:
        return pdf(_FORM, _TEMPLATE, facts)
    except LetterMissing:
        return pdf(_FORM, _TEMPLATE, facts, accessible=False)


def map_png(survey: Survey) -> bytes:
    """Return the map with the stations' numbers as PNG.

    Raises
    ------
    OutputFailed
        If the map cannot be set.
    """
    facts = {**_facts(survey), "kind": "map", "drawing": survey_drawing(survey, *_MAP_MM)}
    return png("The map of the survey", _TEMPLATE, facts)


def _facts(survey: Survey) -> dict[str, Any]:
    words = {row["code"]: row["text"] for row in rows("survey_words")}
    pits = int((survey.proposed["pit"] != "").sum())
    return {
        "fonts": _FONTS,
        "field": survey.settings.field.name,
        "season": str(survey.settings.field.season or ""),
        "title": f"Field form, {survey.settings.field.name}",
        "map_words": f"Map of {len(survey.proposed)} stations and {_pits(pits)}",
        "summary": _summary(survey, pits),
        "unit": survey.settings.readings.cone_unit or "MPa",
        "depths": [f"{depth:g}" for depth in survey_depths_cm(survey)],
        "scores": [words[f"structure-{score}"] for score in range(1, 6)],
        "thread": [words[code] for code in ("thread-how", *_THREAD)],
        "moisture": words["moisture"],
        "cone": words["cone"],
        "pit": words["pit"],
        "caution": " ".join(words[code] for code in _cautions(survey)),
        "key": key_words(survey),
    }


_THREAD = ("thread-plastic", "thread-friable", "thread-dry")


def _cautions(survey: Survey) -> tuple[str, ...]:
    kept = () if hatched(survey).is_empty else ("keep-off",)
    return ("caution", *kept, "caution-pit")


def _pits(count: int) -> str:
    return "1 pit" if count == 1 else f"{count} pits"


def _summary(survey: Survey, pits: int) -> str:
    walk_km = float(survey.facts["walk_m"]) / 1000.0
    hours = float(survey.facts["time_min"]) / 60.0
    return (
        f"{len(survey.proposed)} stations of {survey.proposed['insertions'].iloc[0]} insertions, "
        f"{_pits(pits)}; walk {walk_km:.1f} km, about {hours:.1f} h"
    )
