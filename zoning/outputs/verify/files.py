"""A plan folder opened to be verified: its document and its layers, and its bytes by hash."""

from __future__ import annotations

import hashlib
import shutil
import sqlite3
import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import geopandas as gpd
import pyogrio
import shapely
from shapely import MultiPolygon

from zoning.contracts import constant
from zoning.errors import Fault, InputRefused
from zoning.outputs.plain import read_json
from zoning.outputs.plan_file import sealed
from zoning.outputs.publish import EDITS, made_beside
from zoning.units import CM_PER_M

DOCUMENT = "plan.json"
STORE = "plan.gpkg"
CHANGED = "The file is of another plan, or changed since: its SHA-256 differs."
AS_PLANNED = "Every row reads as planned: only how it is written differs"
AGAIN = "Make the plan again with 'zoning plan'."
_SQLITE = b"SQLite format 3\x00"
_MEMBERS = (
    "plan_id", "digests", "field", "settings", "inputs", "working_crs", "totals", "cautions",
    "zones", "left_out", "outputs",
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class ReadBack:
    """A plan folder, open.

    Parameters
    ----------
    folder
        Where it lies.
    document
        ``plan.json``.
    layers
        Layer name to the rows of ``plan.gpkg``, working CRS.
    """

    folder: Path
    document: Mapping[str, Any]
    layers: Mapping[str, gpd.GeoDataFrame]

    @property
    def plan_id(self) -> str:
        """Fingerprint that ``plan.json`` states."""
        return str(self.document["plan_id"])

    @property
    def working_crs(self) -> str:
        """Working coordinate system that ``plan.json`` states."""
        return str(self.document["working_crs"]["crs"])

    @property
    def width_m(self) -> float:
        """Working width of the machine that ``plan.json`` states [m]."""
        machine = self.document["settings"]["machine"]
        return float(machine["legs"]) * float(machine["leg_spacing_cm"]) / CM_PER_M

    @property
    def boundary(self) -> MultiPolygon:
        """Outline of the field in ``plan.gpkg``."""
        shapes = self.layers["boundary"].geometry.to_numpy()
        polygons = shapely.get_parts(shapely.get_parts(shapes))
        return MultiPolygon(list(polygons))

    @property
    def zones(self) -> gpd.GeoDataFrame:
        """The zones of ``plan.gpkg``, by number."""
        return self.layers["zones"].sort_values("zone", kind="stable").reset_index(drop=True)


Comparison = Callable[[ReadBack], Iterator[Fault]]


def fault(file: str, what: str, row: int | None = None) -> Fault:
    """Return one thing that differs in `file`."""
    return Fault(file, what, AGAIN, row=row)


def attempted(file: str, work: Callable[[], Iterable[Fault]]) -> list[Fault]:
    """Return what `work` finds, the first few; a file it cannot read is such a finding."""
    most = int(constant("verify_rules", "faults_a_comparison"))
    try:
        return list(islice(_read(file, work), most))
    except InputRefused as refused:
        return list(refused.faults)


def _read(file: str, work: Callable[[], Iterable[Fault]]) -> Iterator[Fault]:
    try:
        yield from work()
    except KeyError as error:
        # A column of a layer, a setting, a member of the page: an older version wrote fewer.
        what = (
            f"It or the plan lacks {error}: one of them was made by another version of zoning, or "
            "changed."
        )
        raise InputRefused([fault(file, what)]) from error
    except Exception as error:
        # A damaged file fails in as many ways as there are readers.
        why = " ".join(str(error).split())[:120]
        what = f"The file cannot be read ({type(error).__name__}: {why})."
        raise InputRefused([fault(file, what)]) from error


def open_document(folder: Path) -> Mapping[str, Any]:
    """Read ``plan.json`` of `folder`.

    Raises
    ------
    InputRefused
        If there is none, or it is no plan.
    """
    path = folder / DOCUMENT
    try:
        there = path.is_file()
    except (OSError, ValueError):
        there = False
    if not there:
        raise InputRefused([_no_plan(folder)])
    try:
        document = read_json(path)
        absent = [name for name in _MEMBERS if name not in document]
    except (OSError, ValueError, TypeError, RecursionError) as error:
        raise InputRefused([fault(str(path), "The file is damaged: it is not JSON.")]) from error
    if not isinstance(document, dict) or absent:
        what = f"The file is damaged: it lacks {', '.join(absent) or 'every member'}."
        raise InputRefused([fault(str(path), what)])
    return document


def _no_plan(folder: Path) -> Fault:
    """Return that `folder` holds no plan; where a file is named, how to have that compared."""
    try:
        file = folder.is_file()
    except (OSError, ValueError):
        file = False
    if not file:
        what = "There is no plan here: the folder holds no plan.json."
        return Fault(str(folder), what, "Name a folder that 'zoning plan' wrote.")
    what = "There is no plan here: this is a file. To have it compared with its plan, name both:"
    return Fault(str(folder), what, f"zoning verify PLAN_FOLDER --sent {folder}")


def open_store(folder: Path) -> dict[str, gpd.GeoDataFrame]:
    """Read every layer of ``plan.gpkg``, after its first bytes and its pages were checked.

    Raises
    ------
    ValueError
        If it is no sound GeoPackage.
    """
    with (folder / STORE).open("rb") as stream:
        if stream.read(len(_SQLITE)) != _SQLITE:
            raise ValueError("it is no GeoPackage")
    with _left_alone(folder / STORE) as path:
        return _layers(path)


@contextmanager
def _left_alone(path: Path) -> Iterator[Path]:
    """Yield a store to read; a copy where edits lie beside it, which reading would put into it."""
    edits = [each for end in EDITS if (each := path.with_name(path.name + end)).is_file()]
    if not edits:
        yield path
        return
    with TemporaryDirectory() as apart:
        for each in (path, *edits):
            shutil.copyfile(each, Path(apart) / each.name)
        yield Path(apart) / path.name


def _layers(path: Path) -> dict[str, gpd.GeoDataFrame]:
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as store:
        if store.execute("PRAGMA integrity_check").fetchone() != ("ok",):
            raise ValueError("its pages are damaged")
        tables = {str(row[0]) for row in store.execute(_TABLES)}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        names = [str(name) for name, _ in pyogrio.list_layers(path) if name in tables]
        layers = {name: pyogrio.read_dataframe(path, layer=name) for name in names}
    # A table without outlines is no layer: a GIS keeps its styles in one of its own.
    return {name: layer for name, layer in layers.items() if isinstance(layer, gpd.GeoDataFrame)}


_TABLES = "SELECT name FROM sqlite_master WHERE type = 'table'"


def byte_faults(folder: Path, document: Mapping[str, Any]) -> Iterator[Fault]:
    """Say which files are missing, not the bytes that the plan wrote, or easily taken for them."""
    told = {str(entry["name"]): str(entry["sha256"]) for entry in document["outputs"]}
    known = _names(document)
    foreign = [path for path in _foreign(folder, known) if _mistakable(path, known)]
    copies = {copied_from(path, document): path for path in foreign}
    if sealed(document) != document:
        yield fault(DOCUMENT, "The file is not as the plan wrote it: its own SHA-256 differs.")
    for name, digest in sorted(told.items()):
        path = folder / name
        if Path(name).name != name or path.is_symlink() or not path.is_file():
            there = copies.get(name)
            if there is None:
                yield fault(name, "The file is missing from the plan.")
            else:
                foreign.remove(there)
                yield Fault(name, f"The file is named '{there.name}' here.", "Name it as it was.")
        elif _digest(path) != digest:
            yield fault(name, CHANGED)
    for path in foreign:
        yield _beside(path, document)


def _beside(path: Path, document: Mapping[str, Any]) -> Fault:
    """Return that a file beside those of the plan could be taken for one of them."""
    same = copied_from(path, document)
    if same:
        what = f"The file is a copy of {same}, byte for byte, and no part of the plan."
        return Fault(path.name, what, "Move it elsewhere.")
    what = "The file is no part of the plan, and could be taken for one; it is a copy of none."
    return Fault(path.name, what, "Move it elsewhere; --sent says what in it differs.")


def copied_from(path: Path, document: Mapping[str, Any]) -> str:
    """Return the name of the plan's file whose bytes `path` holds; blank where there is none."""
    digest = _digest(path)
    same = [str(entry["name"]) for entry in document["outputs"] if entry["sha256"] == digest]
    return same[0] if same else ""


def is_as_written(name: str, read: ReadBack) -> bool:
    """Return whether the file `name` is the bytes that the plan wrote."""
    told = {str(entry["name"]): str(entry["sha256"]) for entry in read.document["outputs"]}
    return _digest(read.folder / name) == told.get(name)


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def foreign_notes(folder: Path, document: Mapping[str, Any]) -> tuple[str, ...]:
    """Return what lies beside the files of the plan and is not compared, in a line or two."""
    known = _names(document)
    others = [path for path in _foreign(folder, known) if not _mistakable(path, known)]
    made = [path.name for path in others if made_beside(path, known)]
    edits = [path.name for path in others if path.name not in made and path.name.endswith(EDITS)]
    rest = [path.name for path in others if path.name not in {*made, *edits}]
    notes = {
        "Changes that another program has not yet put into the file, compared with it": edits,
        "Made by another program from a file of the plan, and gone when the field is planned "
        "again": made,
        "No part of the plan, and not looked at": rest,
    }
    return tuple(f"{words}: {', '.join(names)}." for words, names in notes.items() if names)


def _names(document: Mapping[str, Any]) -> frozenset[str]:
    return frozenset({*(str(entry["name"]) for entry in document["outputs"]), DOCUMENT})


def _foreign(folder: Path, known: frozenset[str]) -> list[Path]:
    return sorted(path for path in folder.iterdir() if path.name not in known)


def _mistakable(path: Path, known: frozenset[str]) -> bool:
    """Return whether a file is of a kind that a plan holds, and so could be sent for one."""
    return path.is_file() and path.suffix.lower() in {Path(name).suffix for name in known}
