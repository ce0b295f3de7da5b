from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from survey_drawn import drawn_survey

from zoning.outputs.survey.sheet import form_pdf, map_png


def printed(data: bytes, tmp_path: Path) -> str:
    """Return the text of a PDF as poppler reads it."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    file = tmp_path / "form.pdf"
    file.write_bytes(data)
    done = subprocess.run(
        ["pdftotext", "-layout", str(file), "-"], capture_output=True, text=True, check=True
    )
    return done.stdout


def test_the_form_is_one_tagged_page() -> None:
    data = form_pdf(drawn_survey())
    assert data.startswith(b"%PDF")
    assert b"pdfuaid" in data
    assert data.count(b"/Type /Page\n") + data.count(b"/Type/Page/") in (0, 1)
    assert data == form_pdf(drawn_survey())


def test_the_form_says_what_to_write_and_in_what_unit(tmp_path: Path) -> None:
    text = printed(form_pdf(drawn_survey(cone_unit="kPa")), tmp_path)
    assert text.count("\f") == 1
    for words in ("Cone index in kPa", "plastic", "friable", "Structure score", "buried services"):
        assert words in text
    for score in "12345":
        assert f"{score} " in text


def test_hatched_ground_is_named_only_where_there_is_any(tmp_path: Path) -> None:
    survey = drawn_survey()
    without = replace(survey, keep_off=survey.keep_off.iloc[:0])
    assert "hatched" in " ".join(printed(form_pdf(survey), tmp_path).split())
    text = " ".join(printed(form_pdf(without), tmp_path).split())
    assert "hatched" not in text
    assert "have them located, before you push a cone or dig. Nobody stays in a pit" in text


def test_the_finest_form_is_still_one_page_with_every_depth(tmp_path: Path) -> None:
    text = printed(form_pdf(drawn_survey(form_step_cm=2.5)), tmp_path)
    assert text.count("\f") == 1
    heads = next(line for line in text.splitlines() if line.strip().startswith("station"))
    assert heads.split()[4:-5] == [f"{2.5 * (i + 1):g}" for i in range(22)]


def test_letters_that_no_font_has_do_not_stop_the_form() -> None:
    assert form_pdf(drawn_survey(name="\U0001f9ec\ue123")).startswith(b"%PDF")


def test_the_map_is_a_picture() -> None:
    data = map_png(drawn_survey(taken=3))
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    width, height = (int.from_bytes(data[i : i + 4]) for i in (16, 20))
    assert 1000 < width < height * 2 < 8000
