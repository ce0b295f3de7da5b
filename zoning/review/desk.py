"""What the pages share: the field, its record, its plan, and the secrets of this start."""

from __future__ import annotations

import secrets
import threading
from dataclasses import dataclass, field
from pathlib import Path

from zoning import records, workflow
from zoning.errors import InputRefused, OutputFailed
from zoning.model import FieldInputs, Notice
from zoning.review.ground import Ground, plan_ground
from zoning.workflow.recorded import known_season
from zoning.workflow.records import record_inputs

_Marks = tuple[tuple[int, int], ...]


@dataclass(slots=True, eq=False)
class Desk:
    """A field that is being reviewed.

    Parameters
    ----------
    folder, plan_folder
        The field folder, and where its plan lies.
    inputs
        The field as its files hold it.
    record
        The season record.
    season
        The season of the field.
    notices
        What must be told at the start.
    token
        Stands in every form; made anew at each start.
    code
        What others on the network have to give; blank where only this computer can reach the page.
    """

    folder: Path
    plan_folder: Path
    inputs: FieldInputs
    record: records.Record
    season: int
    notices: tuple[Notice, ...]
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    code: str = ""
    _ground: tuple[tuple[int, int], Ground] | None = None
    _marks: _Marks = ()
    _looking: threading.Lock = field(default_factory=threading.Lock)

    @property
    def name(self) -> str:
        """Name of the field."""
        return self.inputs.settings.field.name

    def look_again(self) -> None:
        """Take in what the files of the field say, where they were changed while the page is open.

        Files that do not read are told; the pages then show the field as it was.
        """
        with self._looking:
            marks = _marks(self.folder, self.inputs)
            if marks == self._marks:
                return
            self._marks = marks
            try:
                inputs = workflow.read_field(self.folder)
                season = known_season(inputs)
            except InputRefused as fault:
                text = f"The files of the field were changed and do not read now. {fault}"
                self.notices = (Notice("caution", "files-do-not-read", text),)
                return
            self.inputs, self.season, self._ground = inputs, season, None
            self._marks = _marks(self.folder, inputs)
            self.notices = _taken_in(self.record, self.folder, inputs)

    def ground(self) -> Ground:
        """Return the plan as it is now; read again when it was made anew."""
        mark = _mark(self.plan_folder / "plan.json")
        with self._looking:
            if self._ground is None or self._ground[0] != mark:
                self._ground = (mark, plan_ground(self.plan_folder, self.inputs))
            return self._ground[1]


def open_desk(folder: Path, *, plan_folder: Path | None = None) -> Desk:
    """Open the record of a field folder, bring in what its files hold, and read its plan.

    Raises
    ------
    InputRefused
        If the field, its plan or its record is at fault, or nothing says which season it is.
    OutputFailed
        If there is no record yet and none can be begun.
    """
    inputs = workflow.read_field(folder)
    season = known_season(inputs)
    record = records.open_record(folder)
    desk = Desk(
        folder=folder,
        plan_folder=plan_folder or folder / "plan",
        inputs=inputs,
        record=record,
        season=season,
        notices=_taken_in(record, folder, inputs),
        _marks=_marks(folder, inputs),
    )
    desk.ground()
    return desk


def _taken_in(record: records.Record, folder: Path, inputs: FieldInputs) -> tuple[Notice, ...]:
    """Keep what the files of the field hold, and return what must be told of it."""
    try:
        return record_inputs(record, folder, inputs).notices
    except OutputFailed as fault:
        text = f"Nothing can be saved now; the pages only show what is there. {fault}"
        return (Notice("caution", "record-read-only", text),)


def _marks(folder: Path, inputs: FieldInputs) -> _Marks:
    """Return when each file of the field, and each photo that a pit names, was last changed."""
    named = sorted({str(name) for name in inputs.pits["photo"] if name})
    photos = [place for name in named for place in records.places_of(name)]
    return tuple(_mark(folder / name) for name in (*(f.name for f in inputs.files), *photos))


def _mark(path: Path) -> tuple[int, int]:
    try:
        facts = path.stat()
    except (OSError, ValueError):  # a name of a photo may be none that a system knows
        return (0, 0)
    return (facts.st_mtime_ns, facts.st_ino)
