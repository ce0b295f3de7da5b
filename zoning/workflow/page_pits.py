"""The pits of the review page among those of the files, as a check goes by them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
from pyproj import Transformer

from zoning import records
from zoning.contracts import joined
from zoning.model import FieldInputs, Notice
from zoning.model.names import in_numbers
from zoning.records import NAME, Entry, Pit
from zoning.workflow.recorded import file_drafts, key_of, overruled, pit_bodies, trails_of
from zoning.workflow.season_dates import season_of


def with_recorded_pits(inputs: FieldInputs, folder: Path) -> FieldInputs:
    """Return the inputs with the pits that were added, corrected or withdrawn on the review page.

    The pits stand with ``file`` = ``records.gpkg``; a withdrawn pit is listed as left out. Where a
    file says other than it did when the page was saved, the file counts and a caution says so,
    whether the record has taken that row in yet or not. Another names the pits behind the machine
    that the record has from files which have them no more. A field without a record is returned as
    it is.

    Raises
    ------
    InputRefused
        If the record is damaged.
    """
    record = records.held_record(folder)
    if record is None:
        return inputs
    season = season_of(inputs)
    rows = pit_bodies(inputs.pits, season)
    changed = {draft.record_id for draft in file_drafts(record, rows, origin="file")[0]}
    entries = [
        entry
        for entry in record.latest(Pit, season=season)
        if entry.origin == "page" and entry.record_id not in changed
    ]
    by_page = {entry.record_id for entry in entries}
    trails = trails_of(record.everything(Pit))
    owners = [trails.get(key_of(row), []) for row in rows]
    stands = [not trail or trail[-1].record_id not in by_page for trail in owners]
    facts = zip(rows, owners, stands, strict=True)
    told = [n for row, trail, own in facts if own for n in overruled(row, trail)]
    read = {trail[-1].record_id for trail in owners if trail}
    lost = [entry for entry in record.latest(Pit, season=season) if entry.record_id not in read]
    told += _in_no_file(lost, inputs.left_out)
    return replace(
        _joined(inputs, entries, stands), notices=(*inputs.notices, *_count(entries), *told)
    )


def _in_no_file(lost: Sequence[Entry[Pit]], left_out: pd.DataFrame) -> list[Notice]:
    """Return a caution for pits behind the machine that files gave once and give no more."""
    named = set(left_out["what"])
    pits = (entry.body for entry in lost if entry.origin != "page")
    behind = [body.pit for body in pits if body.phase == "after" and not body.withdrawn]
    names = sorted((pit for pit in behind if f"pit {pit} (after)" not in named), key=in_numbers)
    if not names:
        return []
    told, they, their, them = ("pit", "It is", "its row", "it")
    if len(names) > 1:
        told, they, their, them = ("pits", "They are", "their rows", "them")
    text = (
        f"{NAME} holds {told} {joined(names)}, dug after the work, that no "
        f"file has any more. {they} not counted: put {their} back, or withdraw {them} on the "
        "review page with the reason."
    )
    return [Notice("caution", "pits-in-no-file", text)]


def _joined(
    inputs: FieldInputs, entries: Sequence[Entry[Pit]], stands: Sequence[bool]
) -> FieldInputs:
    """Return the inputs with the rows of the files that stand and the pits of the page."""
    if not entries:
        return inputs
    added = _pit_frame(entries, inputs.working_crs, list(inputs.pits.columns))
    added = added.astype(inputs.pits.dtypes.to_dict())
    gone = np.array([bool(entry.body.withdrawn) for entry in entries])
    every = pd.concat([inputs.pits[list(stands)], added[~gone]], ignore_index=True)
    return replace(
        inputs,
        pits=every.sort_values(["pit", "phase", "file", "row"], kind="stable", ignore_index=True),
        left_out=_left_out(inputs.left_out, entries),
        withdrawn=added[gone].reset_index(drop=True),
    )


def _count(entries: Sequence[Entry[Pit]]) -> list[Notice]:
    standing = sum(not entry.body.withdrawn for entry in entries)
    what = "1 pit is" if standing == 1 else f"{standing} pits are"
    text = f"{what} as {NAME} holds {'it' if standing == 1 else 'them'} (review page)."
    return [Notice("note", "pits-from-record", text)] if standing else []


def _left_out(left_out: pd.DataFrame, entries: Sequence[Entry[Pit]]) -> pd.DataFrame:
    gone = [entry for entry in entries if entry.body.withdrawn]
    rows = pd.DataFrame(
        {
            "file": [NAME for _ in gone],
            "row": [entry.sequence for entry in gone],
            "what": [f"pit {entry.body.pit}, {entry.body.phase}" for entry in gone],
            "pit_phase": [entry.body.phase for entry in gone],
            "reason": [f"Withdrawn on the review page. {entry.why}".strip() for entry in gone],
        }
    )
    return pd.concat([left_out, rows.astype(left_out.dtypes.to_dict())], ignore_index=True)


def _pit_frame(entries: Sequence[Entry[Pit]], crs: str, columns: list[str]) -> pd.DataFrame:
    """Return pits of the record as rows of the reader, places in the working CRS."""
    bodies = [entry.body for entry in entries]
    lon = np.array([body.lon for body in bodies], dtype=np.float64)
    lat = np.array([body.lat for body in bodies], dtype=np.float64)
    x, y = Transformer.from_crs(4326, crs, always_xy=True).transform(lon, lat)
    own = [c for c in columns if c not in ("x_m", "y_m", "file", "row")]
    said = {c: [getattr(body, c) for body in bodies] for c in own}
    frame = pd.DataFrame(said).assign(
        x_m=x, y_m=y, file=NAME, row=[entry.sequence + 1 for entry in entries]
    )
    return frame[columns]
