"""The season record: one SQLite file in the field folder, which any GIS opens as a GeoPackage."""

from zoning.records.entries import (
    BODIES,
    Body,
    Check,
    CheckRow,
    Photo,
    Pit,
    PlanIssued,
    Review,
    Station,
    Trial,
    Zone,
    faults_of,
    pit_faults,
)
from zoning.records.file import NAME
from zoning.records.open import copy_record, everything, held_record, open_record
from zoning.records.photos import FOLDER as PHOTOS
from zoning.records.photos import KeptPhoto, keep_photo, known_photo, photo_file, places_of
from zoning.records.store import Conflict, Draft, Entry, NameTaken, Record, new_id
from zoning.records.text import export_folder, import_folder, table_text
from zoning.records.verify import pits_not_held, rescued

__all__ = [
    "BODIES",
    "NAME",
    "PHOTOS",
    "Body",
    "Check",
    "CheckRow",
    "Conflict",
    "Draft",
    "Entry",
    "KeptPhoto",
    "NameTaken",
    "Photo",
    "Pit",
    "PlanIssued",
    "Record",
    "Review",
    "Station",
    "Trial",
    "Zone",
    "copy_record",
    "everything",
    "export_folder",
    "faults_of",
    "held_record",
    "import_folder",
    "keep_photo",
    "known_photo",
    "new_id",
    "open_record",
    "photo_file",
    "pit_faults",
    "pits_not_held",
    "places_of",
    "rescued",
    "table_text",
]
