"""Read a plan folder back, compare it with itself, with the rules of a plan and with its field."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from zoning import outputs, readings
from zoning import parts as parts_room
from zoning.contracts import constant
from zoning.errors import Fault, InputRefused
from zoning.model import FieldInputs, Settings
from zoning.model.verified import Verified
from zoning.outputs.bars import STANDING
from zoning.outputs.cleared import kept_back_words
from zoning.records import NAME as RECORD
from zoning.workflow.cautions import cleared
from zoning.workflow.issued import newest_notes, replaced_words
from zoning.workflow.progress import Progress, silent

_AGAIN = "Make the plan again with 'zoning plan'."
_STORE = "plan.gpkg"
_DEPTH_TOLERANCE_CM = 1e-6

# What a change of each digest means, by its name in plan.json.
_DIGESTS = MappingProxyType(
    {
        "boundary": "The outline of the field is not the one the plan was made from.",
        "readings": "The cone readings or pits are not those the plan was made from.",
        "hazards": "Drains, services or obstacles are not those the plan was made with.",
    }
)
_SETTINGS = "The settings are not those the plan was made with"
# Files whose content counts through the zones alone, by role: any change of them is a change.
_THROUGH_ZONES = ("wheelings", "gateways", "named areas", "trials")


def verify_plans(
    folder: str | Path,
    field: str | Path | None = None,
    *,
    sent: Sequence[str | Path] = (),
    progress: Progress = silent,
) -> tuple[tuple[Verified, ...], tuple[Fault, ...]]:
    """Hold each sent file against the plan that it is of, at `folder` or anywhere below it.

    Parameters
    ----------
    folder
        Folder that ``zoning plan`` wrote; with `sent` also one with plans below it. A file of a
        plan that was replaced is known by the season records below it.
    field, sent, progress
        As `verify_plan` takes them.

    Returns
    -------
    tuple
        Each plan that a file is of, read back, in the order of the files; and the files that are
        of none.

    Raises
    ------
    zoning.errors.InputRefused
        If `folder` holds no plan, or `field` cannot be read.
    """
    files: dict[Path, list[Path]] = {} if sent else {Path(folder): []}
    lost: list[Fault] = []
    for file in map(Path, sent):
        try:
            files.setdefault(_plan_of(file, Path(folder)), []).append(file)
        except InputRefused as refused:
            lost += refused.faults
    plans = [verify_plan(at, field, sent=of, progress=progress) for at, of in files.items()]
    return tuple(plans), tuple(lost)


def verify_plan(
    folder: str | Path,
    field: str | Path | None = None,
    *,
    sent: Sequence[str | Path] = (),
    progress: Progress = silent,
) -> Verified:
    """Read every file of a plan back and say what differs.

    Parameters
    ----------
    folder
        Folder that ``zoning plan`` wrote.
    field
        Field folder that the plan should belong to; not compared where not given.
    sent
        Files, under any name, that should be copies of files of the plan.
    progress
        Called with the name of each step.

    Returns
    -------
    Verified
        With everything that differs among the files, from ``plan_id``, from the rules of a plan
        (steps of the machine, caps over hazards) and from the field folder as it is now.

    Raises
    ------
    zoning.errors.InputRefused
        If `folder` holds no plan, or `field` or a file of `sent` cannot be read.
    """
    folder = Path(folder)
    progress("reading the plan back")
    read, faults = outputs.read_back(folder)
    rules = _attempted(read)
    inputs = None
    newest: tuple[str, ...] = ()
    if field is not None:
        progress("reading the field folder")
        inputs = readings.read_field(Path(field))
        newest = newest_notes(Path(field), read.plan_id)
    changed, notes = _changes(read, inputs)
    judged = [outputs.judged(Path(file), read) for file in sent]
    return Verified(
        plan_id=read.plan_id,
        field=str(read.document["field"]["name"]),
        files=len(read.document["outputs"]) + 1,
        zones=len(read.document["zones"]),
        faults=(*faults, *rules, *changed, *(each for one in judged for each in one.faults)),
        notes=(
            *(one.words for one in judged if one.words),
            *_stops(read),
            *newest,
            *notes,
            *outputs.foreign_notes(folder, read.document),
        ),
        not_cleared=_not_cleared(read),
    )


def _plan_of(sent: Path, folder: Path) -> Path:
    """Return the folder of the plan that a sent file is of; refuse one of a plan since replaced."""
    try:
        at = outputs.plan_of(sent, folder)
    except InputRefused:
        there = sent.is_file()
        words = replaced_words(folder, lambda number: there and outputs.carries(sent, number))
        if not words:
            raise
        raise _to_take_back(sent, words) from None
    if at == folder:
        return at
    # A copy of the plan that was driven may lie below the farm beside the newer plan.
    own = str(outputs.open_document(at)["plan_id"])
    if words := replaced_words(_recorded(at, folder), lambda number: number == own):
        raise _to_take_back(sent, words)
    return at


def _to_take_back(sent: Path, words: str) -> InputRefused:
    remedy = "Take it out of the cab and send the files of the newer plan."
    return InputRefused([Fault(str(sent), words, remedy)])


def _recorded(plan: Path, farm: Path) -> Path:
    """Return the nearest folder around a plan that holds a season record; the farm without one."""
    around = [home for home in plan.parents if home.is_relative_to(farm)]
    return next((home for home in around if (home / RECORD).is_file()), farm)


def _stops(read: outputs.ReadBack) -> list[str]:
    """Return the Stops that lead the plan: files given out before them bear its number too."""
    stops = [each["text"] for each in read.document["cautions"] if each["code"] == STANDING]
    old = "Files given out before that bear the same number and lack it: take them back."
    return [*stops, old] if stops else []


def _not_cleared(read: outputs.ReadBack) -> str:
    """Return the words on ground not cleared; blank where there is none, and in a damaged plan."""
    words: list[str] = []

    def work() -> tuple[Fault, ...]:
        settings = readings.settings_from(read.document["settings"])
        words.append(kept_back_words(read.zones, settings))
        return ()

    outputs.attempted(_STORE, work)
    return "".join(words)


def _attempted(read: outputs.ReadBack) -> list[Fault]:
    if not {"zones", "hazards"} <= set(read.layers):
        return []
    return outputs.attempted(_STORE, lambda: _rule_faults(read))


def _rule_faults(read: outputs.ReadBack) -> Iterator[Fault]:
    """Say which zones break a rule that every plan keeps."""
    settings = readings.settings_from(read.document["settings"])
    zones = read.zones
    depth = zones["depth_cm"].to_numpy(dtype=np.float64)
    for number, at in zip(zones["zone"], depth, strict=True):
        if not _is_setting(float(at), settings):
            yield Fault(_STORE, f"Zone {number}: {at:g} cm is no setting of the machine.", _AGAIN)
    worked = sorted({float(at) for at in depth if at > 0})
    if len(worked) > settings.depth.max_depths:
        yield Fault(_STORE, f"The plan works {len(worked)} depths, more than asked for.", _AGAIN)
    for number, at, word in zip(zones["zone"], depth, zones["cleared"], strict=True):
        if word != cleared(float(at), settings):
            what = f"Zone {number}: '{word}' is not the word on services at {at:g} cm."
            yield Fault(_STORE, what, _AGAIN)
    yield from _cap_faults(read, depth, settings)


def _is_setting(depth_cm: float, settings: Settings) -> bool:
    machine = settings.machine
    steps = (depth_cm - machine.depth_min_cm) / machine.depth_step_cm
    in_range = machine.depth_min_cm <= depth_cm <= machine.depth_max_cm + _DEPTH_TOLERANCE_CM
    return depth_cm == 0 or (in_range and abs(steps - round(steps)) <= _DEPTH_TOLERANCE_CM)


def _cap_faults(
    read: outputs.ReadBack, depth_cm: NDArray[np.float64], settings: Settings
) -> Iterator[Fault]:
    """Say which zones are worked deeper than a hazard allows."""
    keep_off, _ = parts_room.hazard_zones(
        read.layers["hazards"], machine_width_m=settings.machine.width_m
    )
    shapes = read.zones.geometry.to_numpy()
    least = constant("verify_rules", "overlap_least_m2")
    numbers = read.zones["zone"].to_numpy()
    for kind, cap_cm, ground in zip(
        keep_off["kind"], keep_off["cap_cm"], keep_off.geometry, strict=True
    ):
        shared = shapely.area(shapely.intersection(shapes, ground))
        deep = (shared > least) & (depth_cm > cap_cm + _DEPTH_TOLERANCE_CM)
        for number, at in zip(numbers[deep], depth_cm[deep], strict=True):
            what = f"Zone {number}: {at:g} cm is deeper than the {cap_cm:g} cm allowed at a {kind}."
            yield Fault(_STORE, what, _AGAIN)


def _changes(
    read: outputs.ReadBack, inputs: FieldInputs | None
) -> tuple[list[Fault], tuple[str, ...]]:
    """Return what of the field has changed since the plan, and what bears not on the plan."""
    if inputs is None:
        return [], ("Not compared with a field folder: name one with --field.",)
    files = _file_changes(read.document, inputs)
    now, then = outputs.input_digests(inputs), read.document["digests"]
    named = f" Changed: {each_once(files)}." if files else ""
    told = [
        Fault("field.toml", f"{words}{named}", _AGAIN)
        for name, words in _DIGESTS.items()
        if now[name] != then[name]
    ]
    if now["settings"] != then["settings"]:
        was = read.document["settings"]
        told.append(_settings_fault(outputs.changed_settings(was, asdict(inputs.settings))))
    told += [
        Fault(name, f"The {role} are not those the plan was made from.", _AGAIN)
        for role, name in sorted(files.items())
        if role in _THROUGH_ZONES
    ]
    if told or not files:
        return told, ()
    return [], (f"Changed since, but in nothing that the plan rests on: {each_once(files)}.",)


def _settings_fault(changed: Mapping[str, str]) -> Fault:
    """Return which keys have changed; where they are prices alone, that no depth does."""
    keys = {key: key.rpartition(".") for key in changed}
    told = "; ".join(f"[{at}] {name} {changed[key]}" for key, (at, _, name) in keys.items())
    what = f"{_SETTINGS}: {told}."
    if all(key.startswith("costs.") for key in changed):
        remedy = "Prices only: no depth changes; plan again for the new cost, under a new number."
        return Fault("field.toml", what, remedy)
    return Fault("field.toml", what, _AGAIN)


def each_once(files: Mapping[str, str]) -> str:
    """Return the names of files by role, each once: a workbook may hold several roles."""
    return ", ".join(sorted(set(files.values())))


def _file_changes(document: Mapping[str, Any], inputs: FieldInputs) -> dict[str, str]:
    """Return the roles whose files differ in content from those of the plan, with their names."""
    then = [(str(e["role"]), str(e["sha256"]), str(e["name"])) for e in document["inputs"]]
    now = [(file.role, file.sha256, file.name) for file in inputs.files]
    told = {
        role: _differing(_of_role(role, then), _of_role(role, now))
        for role in {role for role, *_ in (*then, *now)}
    }
    return {role: names for role, names in told.items() if names}


def _of_role(role: str, files: Sequence[tuple[str, str, str]]) -> Sequence[tuple[str, str]]:
    return [(digest, name) for at, digest, name in files if at == role]


def _differing(then: Sequence[tuple[str, str]], now: Sequence[tuple[str, str]]) -> str:
    """Name the files whose content is on one side alone; where a name is too, field.toml says it.

    A file under another name counts as the same.
    """
    before, after = ({digest for digest, _ in side} for side in (then, now))
    gone = {name for digest, name in then if digest not in after}
    new = {name for digest, name in now if digest not in before}
    told = [
        *(gone & new),
        *(f"{name} (no longer in field.toml)" for name in gone - new),
        *(f"{name} (new in field.toml)" for name in new - gone),
    ]
    return ", ".join(sorted(told))
