"""Fuzz targets of the readers: only a refusal may leave them, whatever the bytes.

    pip install atheris
    python tests/fuzz/fuzz_readers.py cone -max_total_time=600

Targets: cone, pits, trials, settings, geojson, xml, zip. Seeds come from the corpus of broken
input; what is found goes into `tests/corpus` as a case. Options after the target are libFuzzer's.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).parents[1]))

with atheris.instrument_imports(include=["zoning"]):
    from zoning.readings.cone import read_cone
    from zoning.readings.geojson import read_geojson
    from zoning.readings.pits import read_pits, read_trials
    from zoning.readings.toml_file import read_settings
    from zoning.readings.xml_file import parse_xml, read_kml
    from zoning.readings.zip_shapefile import unpack_shapefile

from corpus import base, broken_archives, broken_shapes, broken_tables

from zoning.errors import InputRefused
from zoning.readings.files import Blob

FOLDER = Path(tempfile.mkdtemp())


def cone(blob: Blob) -> object:
    return read_cone(blob, cone_unit="MPa", crs_given=False, areas=["old clamp"])


def pits(blob: Blob) -> object:
    return read_pits(blob, crs_given=False, areas=["old clamp"])


def settings(blob: Blob) -> object:
    (FOLDER / "field.toml").write_bytes(blob.data or b"#")
    return read_settings(FOLDER)


def xml(blob: Blob) -> object:
    return read_kml(blob, parse_xml(blob), None)


def packed(blob: Blob) -> object:
    return unpack_shapefile(blob, None, "")


TARGETS: dict[str, tuple[Callable[[Blob], object], list[str | bytes]]] = {
    "cone": (cone, [base.CONE, *broken_tables.OTHER_FILES.values()]),
    "pits": (pits, [base.PITS]),
    "trials": (read_trials, [base.TRIALS]),
    "settings": (settings, [base.FIELD]),
    "geojson": (read_geojson, [base.BOUNDARY, base.HAZARDS, base.AREAS]),
    "xml": (xml, [broken_shapes.KML, broken_shapes.BOMB]),
    "zip": (packed, [broken_archives.packed(broken_archives.shapefile())]),
}


def main() -> None:
    name = sys.argv.pop(1)
    target, seeds = TARGETS[name]
    start = Path(tempfile.mkdtemp(prefix=f"fuzz-{name}-"))
    for number, seed in enumerate(seeds):
        (start / str(number)).write_bytes(seed if isinstance(seed, bytes) else seed.encode())

    def once(data: bytes) -> None:
        try:
            target(Blob("fuzzed", "file", data))
        except InputRefused as refused:
            if not str(refused).strip():
                raise AssertionError("a refusal without words") from refused

    atheris.Setup(
        [*sys.argv, "-max_len=65536", "-timeout=5", "-rss_limit_mb=1024", str(start)], once
    )
    atheris.Fuzz()


if __name__ == "__main__":
    main()
