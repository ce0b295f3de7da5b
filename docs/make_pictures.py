"""Make pictures and figures of the documentation: ``python docs/make_pictures.py [--figures]``.

Everything comes from the sample field: ``tutorial/account.txt`` is what ``zoning plan`` prints,
made shorter, and ``tutorial/assurance.csv`` what other assurances choose; ``--figures`` makes these
two only. Needs what ``pip install -e ".[dev]"`` brings, pillow, and Chromium for the picture of the
map page. The drawings are plain SVG: their profiles are interpreted, and their curves computed, by
the program.
"""

# ruff: noqa: INP001 - the folder of the documentation is no package
from __future__ import annotations

import argparse
import csv
import io
import json
import math
import shutil
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import typst
from PIL import Image
from playwright.sync_api import sync_playwright
from scipy.stats import norm

import zoning
from zoning import outputs, profiles
from zoning.cli.summary import summary
from zoning.model import FieldInputs, Plan
from zoning.outputs.sheet.facts import sheet_facts

HERE = Path(__file__).parent
ROOT = HERE.parent
PICTURES = HERE / "pictures"
ACCOUNT = HERE / "tutorial" / "account.txt"
ASSURANCE = HERE / "tutorial" / "assurance.csv"
SAMPLE = ROOT / "sample_data" / "teasel_piece"
BLOCKS = (
    "Readings used", "Is loosening called", "Working depths", "Expected loss", "Work:", "Of ",
    "Left out",
)  # fmt: skip
MEANINGS = {
    0.5: "too shallow and too deep weigh the same",
    0.8: "a centimetre too shallow weighs as four too deep",
    0.9: "as nine too deep",
}
MAP_WIDTH_PX = 1000
SHEET_WIDTH_PX = 900
COLOURS = 96

LIMIT_MPA = 2.0
INK, SOFT, PAN, LINE = "#1d2733", "#77808a", "#c9b458", "#00204d"
FONT = "font-family='DejaVu Sans, Arial, sans-serif'"

Points = Sequence[tuple[float, float]]


def main() -> int:
    """Write figures and pictures; return the exit status."""
    parser = argparse.ArgumentParser(description=__doc__.partition(":")[0])
    parser.add_argument("--figures", action="store_true", help="only account.txt and assurance.csv")
    only_figures = parser.parse_args().figures
    inputs = zoning.read_field(SAMPLE)
    plan = zoning.make_plan(inputs)
    ACCOUNT.write_text(account(plan), encoding="utf-8")
    with ASSURANCE.open("w", encoding="utf-8", newline="") as opened:
        csv.writer(opened, lineterminator="\n").writerows(assurances(inputs))
    if not only_figures:
        _pictures(plan)
    return 0


def _pictures(plan: Plan) -> None:
    PICTURES.mkdir(exist_ok=True)
    (PICTURES / "verdicts.svg").write_text(verdicts_svg(), encoding="utf-8")
    (PICTURES / "assurance.svg").write_text(assurance_svg(), encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "plan"
        zoning.write_plan(plan, target)
        _save(Image.open(target / "plan.png"), "plan.png", MAP_WIDTH_PX)
        page = target / "map.html"
        if shutil.which("chromium"):
            _save(Image.open(io.BytesIO(_screen(page))), "map_page.png", MAP_WIDTH_PX)
    for number, image in enumerate(_sheet(plan), start=1):
        _save(image, f"sheet_{number}.png", SHEET_WIDTH_PX)


def account(plan: Plan) -> str:
    """Return the blocks of the account that the tutorial explains, the rating of the field only."""
    blocks = summary(plan, [], Path("teasel_plan")).split("\n\n")
    kept = [_shortened(block) for block in blocks if block.startswith((plan_name(plan), *BLOCKS))]
    return "\n\n".join(kept) + "\n"


def plan_name(plan: Plan) -> str:
    """Return the name that the account begins with."""
    return plan.settings.field.name


def _shortened(block: str) -> str:
    if not block.startswith("Is loosening"):
        return block
    return "\n".join(block.splitlines()[:3])


def assurances(inputs: FieldInputs) -> Iterator[tuple[str, str, str, str]]:
    """Return rows of what each assurance chooses for the field, headings first."""
    yield "assurance", "legs lifted out", "depths chosen, cm", "what it means"
    for assurance, meaning in MEANINGS.items():
        depth = replace(inputs.settings.depth, assurance=assurance)
        tried = replace(inputs, settings=replace(inputs.settings, depth=depth))
        zones = zoning.make_plan(tried).zones
        lifted_ha = zones.loc[zones["depth_cm"] == 0, "area_ha"].sum()
        depths = sorted(set(zones["depth_cm"]) - {0.0})
        yield f"{assurance:g}", f"{lifted_ha:.2f} ha", ", ".join(f"{d:g}" for d in depths), meaning


def _save(image: Image.Image, name: str, width_px: int) -> None:
    """Scale down to `width_px` and save with few colours, so that the file is small."""
    plain = image.convert("RGB")
    scale = min(1.0, width_px / plain.width)
    size = (round(plain.width * scale), round(plain.height * scale))
    small = plain.resize(size, Image.Resampling.LANCZOS)
    # The usual choice of colours goes by how common they are: swatches of a table turned grey.
    few = small.quantize(COLOURS, Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
    few.save(PICTURES / name, optimize=True)


def _sheet(plan: Plan) -> list[Image.Image]:
    """Return the pages of the operator's sheet, set from its own template."""
    template = (Path(outputs.__file__).parent / "sheet" / "sheet.typ").read_bytes()
    facts = json.dumps(sheet_facts(plan), sort_keys=True, allow_nan=False)
    made = typst.compile(template, format="png", ppi=110, sys_inputs={"data": facts})
    pages = made if isinstance(made, list) else [made]
    return [Image.open(io.BytesIO(page)) for page in pages]


def _screen(page: Path) -> bytes:
    """Return a picture of the map page in a browser without a network."""
    with sync_playwright() as running:
        browser = running.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox"]
        )
        opened = browser.new_page(viewport={"width": 1200, "height": 800})
        opened.goto(page.as_uri())
        opened.wait_for_timeout(1500)
        picture = opened.screenshot()
        browser.close()
    return picture


# Profiles and what each of them says


DEPTHS_CM = np.arange(2.5, 60.1, 2.5)
SOFT_MPA = np.interp(DEPTHS_CM, [0, 10, 60], [0.3, 0.9, 1.5])


def _hard(top_cm: float, base_cm: float, peak_mpa: float = 3.4) -> np.ndarray:
    """Return a soft profile with a hard layer that passes the limit at top and base."""
    inside = np.minimum(DEPTHS_CM - top_cm, base_cm - DEPTHS_CM)
    return np.maximum(SOFT_MPA, np.minimum(LIMIT_MPA + 0.3 * inside, peak_mpa))


def profiles_drawn() -> list[tuple[str, np.ndarray, str]]:
    """Return a title, a profile [MPa at DEPTHS_CM] and a word noted for each drawing."""
    stone = _hard(24.0, 36.0)
    stone[DEPTHS_CM == 12.5] = 3.6
    stopped = _hard(26.0, 60.0, 4.2)
    stopped[DEPTHS_CM > 32.5] = np.nan
    unreached = _hard(28.0, 90.0, 3.2)
    unreached[DEPTHS_CM > 45.0] = np.nan
    throughout = np.interp(DEPTHS_CM, [0, 8, 60], [2.4, 3.4, 3.0])
    short = SOFT_MPA.copy()
    short[DEPTHS_CM > 20.0] = np.nan
    return [
        ("a pan, and a stone above it", stone, ""),
        ("no pan", SOFT_MPA, ""),
        ("base not reached", unreached, ""),
        ("refused", stopped, "yes"),
        ("hard throughout", throughout, ""),
        ("ended too early", short, ""),
    ]


def interpreted() -> pd.DataFrame:
    """Return what the program says of the drawn profiles, in their order."""
    logs = [
        pd.DataFrame(
            {
                "insertion_id": f"S{number}/1",
                "station": f"S{number}",
                "insertion": 1,
                "x_m": 0.0,
                "y_m": 0.0,
                "lon": 0.0,
                "lat": 0.0,
                "depth_cm": DEPTHS_CM,
                "cone_index_mpa": values,
                "date": "",
                "moisture": "",
                "part": "",
                "refused": refused,
                "note": "",
                "file": "cone.csv",
                "row": 2,
            }
        )
        for number, (_, values, refused) in enumerate(profiles_drawn(), start=1)
    ]
    log = pd.concat(logs, ignore_index=True).dropna(subset="cone_index_mpa")
    return profiles.interpret(log, limit_mpa=LIMIT_MPA)


def verdicts_svg() -> str:
    """Return the drawing of one profile a verdict."""
    said = interpreted().set_index("station")
    panels = []
    for number, (title, values, _) in enumerate(profiles_drawn()):
        row = said.loc[f"S{number + 1}"]
        place = f"translate({20 + 250 * (number % 3)} {20 + 330 * (number // 3)})"
        panels.append(f"<g transform='{place}'>{_profile(title, values, row)}</g>")
    return _svg(770, 680, "Six cone profiles and what each of them says", panels)


def _profile(title: str, values: np.ndarray, row: pd.Series) -> str:
    x, y = (lambda mpa: 40 + 36 * mpa), (lambda cm: 40 + 4 * cm)
    known = np.isfinite(values)
    line = _path([(x(v), y(d)) for v, d in zip(values[known], DEPTHS_CM[known], strict=True)])
    parts = [_text(0, 14, title, weight="bold")]
    if np.isfinite(row["pan_base_cm"]):
        top, base = float(row["pan_top_cm"]), float(row["pan_base_cm"])
        parts.append(
            f"<rect x='40' y='{y(top):.1f}' width='160' height='{4 * (base - top):.1f}' "
            f"fill='{PAN}' fill-opacity='.45'/>"
        )
        below = "deeper than " if row["censored"] else ""
        parts.append(_text(204, y(top) + 5, f"{top:g}", size=11))
        if below:
            parts.append(_text(204, y(base) + 5, f"&gt; {base:g}", size=11))
        else:
            parts.append(_text(204, y(base) + 5, f"{base:g}", size=11))
    for depth in (0, 20, 40, 60):
        parts.append(f"<path d='M36 {y(depth)}H200' stroke='#d5d9dd'/>")
        parts.append(_text(30, y(depth) + 4, f"{depth}", size=11, anchor="end"))
    parts += [
        f"<path d='M{x(LIMIT_MPA)} 40V280' stroke='{INK}' stroke-dasharray='5 4'/>",
        _text(x(LIMIT_MPA), 36, f"{LIMIT_MPA:g} MPa", size=11, anchor="middle"),
        f"<path d='{line}' fill='none' stroke='{LINE}' stroke-width='2'/>",
        _text(40, 300, f"verdict: {str(row['verdict']).replace('_', ' ')}"),
    ]
    return "".join(parts)


# What the assurance means


def assurance_svg() -> str:
    """Return the drawing of how the assurance picks a depth from what is not known exactly."""
    mean, sd, clearance, presence = 31.0, 3.0, 3.0, 0.9
    need = mean + clearance
    x = lambda cm: 60 + 26 * (cm - 22)  # noqa: E731
    grid = np.linspace(22, 47, 201)
    curve = [(x(d), 250 - 1300 * presence * norm.pdf(d, need, sd)) for d in grid]
    parts = [f"<path d='{_path(curve)}' fill='none' stroke='{LINE}' stroke-width='2.5'/>"]
    for share, height in ((0.5, 24), (0.8, 50), (0.95, 76)):
        depth = need + sd * float(norm.ppf((share - (1 - presence)) / presence))
        parts += [
            f"<path d='M{x(depth):.1f} 250V{height + 6}' stroke='{INK}' stroke-dasharray='5 4'/>",
            _text(x(depth) + 6, height + 14, f"assurance {share:g}: {depth:.1f} cm"),
        ]
    parts += [f"<path d='M60 250H{x(47)}' stroke='{INK}'/>"]
    for depth in range(25, 48, 5):
        parts.append(f"<path d='M{x(depth)} 250v5' stroke='{INK}'/>")
        parts.append(_text(x(depth), 270, f"{depth}", size=12, anchor="middle"))
    parts += [
        _text(x(34.5), 294, "depth needed at one place: pan base + clearance, cm", anchor="middle"),
        _text(62, 196, "one chance in ten:", size=12),
        _text(62, 212, "no pan, nothing needed", size=12),
    ]
    return _svg(770, 310, "The depth needed is not known exactly; the assurance picks one", parts)


def _path(points: Points) -> str:
    steps = [f"{x:.1f} {y:.1f}" for x, y in points if math.isfinite(y)]
    return "M" + "L".join(steps)


def _text(
    x: float, y: float, words: str, *, size: int = 13, anchor: str = "start", weight: str = "normal"
) -> str:
    return (
        f"<text x='{x:.1f}' y='{y:.1f}' font-size='{size}' font-weight='{weight}' "
        f"text-anchor='{anchor}' fill='{INK}'>{words}</text>"
    )


def _svg(width: int, height: int, title: str, parts: Sequence[str]) -> str:
    body = "\n".join(parts)
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {width} {height}' role='img' {FONT}>"
        f"\n<title>{title}</title>\n<rect width='{width}' height='{height}' fill='#fff'/>\n"
        f"{body}\n</svg>\n"
    )


if __name__ == "__main__":
    sys.exit(main())
