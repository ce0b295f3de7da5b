"""Each edit with what it changed."""

from __future__ import annotations

from zoning.records import Entry, Pit
from zoning.review.trail import differences, steps

OLD = Pit(season=2026, pit="A1", phase="after", loosened_at_leg_cm=36.0)
NEW = Pit(season=2026, pit="A1", phase="after", loosened_at_leg_cm=34.0, note="misread")


def test_only_what_differs_is_told() -> None:
    assert differences(OLD, NEW) == (("Loosened at a leg, cm", "36", "34"), ("Note", "", "misread"))
    assert ("Pit", "", "A1") in differences(None, OLD)


def test_edits_stand_in_the_order_they_were_saved() -> None:
    one = Entry(1, "a", "r", 1, "2026-10-02T08:00:00.000Z", "K", "page", "", "h", OLD)
    two = Entry(2, "b", "r", 2, "2026-10-02T09:00:00.000Z", "M", "page", "misread", "h", NEW)
    assert [(s.version, s.by_whom, len(s.changes)) for s in steps([two, one])] == [
        (1, "K", len(differences(None, OLD))),
        (2, "M", 2),
    ]
