"""A Stop that falls away leaves a trace: which check said it, of which pit, what was changed."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from outputs.small_check import pits, small_check
from workflow.paged import corrected, keep_check, page_pit

from zoning import records
from zoning.model import Notice
from zoning.model.check import Check
from zoning.outputs.check.words import GONE, STOPS
from zoning.records import Draft, new_id, open_record
from zoning.workflow.recorded import caution_rows
from zoning.workflow.stops import STEP, pits_of, with_every_stop, with_fallen_stops

PAST = "Stop: pit B8 was loosened 36 cm deep, where the drain (D2) holds the work at 30 cm."
SMEARED = "Stop: soil was plastic in pit B8, B9. Loosening plastic soil smears and presses it."


def check_of(*told: tuple[str, str], **said: object) -> Check:
    """Return a check that judged B8 and B9 and asks to stop for what is `told`."""
    check = small_check()
    dug = pits().iloc[:2].assign(pit=["B8", "B9"], loosened_at_leg_cm=36.0, **said)
    stops = tuple(Notice("caution", code, text) for code, text in told)
    return replace(check, inputs=replace(check.inputs, pits=dug), notices=(*stops, *check.notices))


def gone(check: Check, folder: Path) -> list[str]:
    return [n.text for n in with_fallen_stops(check, folder).notices if n.code == GONE]


def pit_kept(folder: Path, name: str) -> None:
    own = pits().iloc[0].to_dict() | {"pit": name, "loosened_at_leg_cm": 36.0}
    said = {key: own[key] for key in ("date", "lon", "lat", "part", "moisture", "speed_km_h")}
    page_pit(folder, name, loosened_at_leg_cm=36.0, loosened_between_cm=24.0, **said)


def test_a_field_without_a_record_or_without_a_stop_is_told_nothing(tmp_path: Path) -> None:
    check = check_of()
    assert with_fallen_stops(check, tmp_path) is check
    keep_check(tmp_path, ("check-deep-over-drain", "Worked deep: pit B8. Look at the outfalls."))
    assert with_fallen_stops(check, tmp_path) is check


def test_a_corrected_depth_names_the_stop_its_pit_both_depths_and_why(tmp_path: Path) -> None:
    pit_kept(tmp_path, "B8")
    when = keep_check(tmp_path, ("check-past-cap", PAST))
    assert gone(check_of(("check-past-cap", PAST)), tmp_path) == []
    corrected(tmp_path, "B8", loosened_at_leg_cm=29.0, why="misread tape")
    keep_check(tmp_path)
    now = check_of(loosened_between_cm=24.0, file="records.gpkg")
    now.inputs.pits.loc[now.inputs.pits["pit"] == "B8", "loosened_at_leg_cm"] = 29.0
    (told,) = gone(now, tmp_path)
    assert told.startswith(f"The Stop of {when[:10]} {when[11:16]} UTC for pit B8 ")
    assert "depth corrected from 36 to 29 cm" in told
    assert "no longer stands" in told
    first = with_fallen_stops(check_of(("check-soil-plastic", SMEARED)), tmp_path).notices
    assert [notice.code in STOPS for notice in first[:2]] == [True, False]
    assert first[1].code == GONE


def test_a_withdrawn_pit_is_told_with_why_and_the_other_pit_still_stops(tmp_path: Path) -> None:
    pit_kept(tmp_path, "B8")
    pit_kept(tmp_path, "B9")
    keep_check(tmp_path, ("check-soil-plastic", SMEARED))
    corrected(tmp_path, "B8", withdrawn="yes", why="another field")
    alone = SMEARED.replace("B8, B9", "B9")
    now = check_of(("check-soil-plastic", alone))
    left = now.inputs.pits[now.inputs.pits["pit"] == "B9"]
    (told,) = gone(replace(now, inputs=replace(now.inputs, pits=left)), tmp_path)
    assert "for pit B8 (plastic soil)" in told
    assert told.endswith("withdrawn on the review page, 'another field'.")


def test_a_pit_given_another_name_stops_under_that_name(tmp_path: Path) -> None:
    pit_kept(tmp_path, "B8")
    keep_check(tmp_path, ("check-past-cap", PAST))
    corrected(tmp_path, "B8", pit="B9")
    assert gone(check_of(("check-past-cap", PAST.replace("B8", "B9"))), tmp_path) == []


@pytest.mark.parametrize(
    ("plan_id", "why"), [("b" * 64, "went by plan bbbbbbbb"), ("a" * 64, "the hazards")]
)
def test_a_pit_that_was_not_touched_names_the_plan_or_the_field(
    tmp_path: Path, plan_id: str, why: str
) -> None:
    pit_kept(tmp_path, "B8")
    keep_check(tmp_path, ("check-past-cap", PAST), plan_id=plan_id)
    (told,) = gone(check_of(), tmp_path)
    assert why in told


def test_a_stop_that_only_dates_take_away_stands_and_names_the_row(tmp_path: Path) -> None:
    pit_kept(tmp_path, "B8")
    keep_check(tmp_path, ("check-past-cap", PAST))
    now = check_of()
    why = "Of a day before pit B1 in pits.csv, row 2 (2027-09-12): it judges earlier work."
    own = {"verdict": "not_judged", "of_work": False, "earlier": True, "reason": why}
    dated = now.pits.iloc[:1].assign(pit="B8", **own)
    notices = with_fallen_stops(replace(now, pits=dated), tmp_path).notices
    assert GONE not in {notice.code for notice in notices}
    assert (notices[0].code, notices[0].pits) == ("check-past-cap", ("B8",))
    assert notices[0].text.startswith(PAST)
    assert "pit B1 in pits.csv, row 2" in notices[0].text
    assert notices[0].text.endswith("The Stop stands until that date is settled.")


def test_a_stop_for_more_pits_than_its_words_name_is_kept_and_falls_for_each(
    tmp_path: Path,
) -> None:
    """Fifteen pits in plastic soil: the words name some and count the rest."""
    names = [f"C{number}" for number in range(1, 16)]
    words = f"Stop: soil was plastic in pits {', '.join(names[:12])} and 3 more."
    told = Notice("caution", "check-soil-plastic", words, tuple(names))
    (row,) = caution_rows([told], "c", 2026)
    assert pits_of(row, names) == tuple(names)
    assert pits_of(replace(row, facts="{}"), names) == tuple(names[:12])
    when = keep_check(tmp_path)
    record = open_record(tmp_path)
    (entry,) = record.latest(records.Check)
    mark = new_id()
    kept = replace(row, check_id=entry.record_id)
    record.save(Draft(body=kept, row_id=mark, record_id=mark, based_on=0, origin="check"))
    fallen = gone(check_of(), tmp_path)
    assert [text.split("pit ")[1].split(" ")[0] for text in fallen] == sorted(names)
    assert all(when[:10] in text for text in fallen)
    check = check_of()
    now = replace(check, notices=(told, *check.notices))
    assert gone(now, tmp_path) == []


plain_check = cache(check_of)
STEPS = st.lists(
    st.text("abc .", min_size=1).filter(str.strip).map(lambda text: f"Stop: pit B8 {text}"),
    max_size=4,
)


@settings(deadline=None)  # the first example makes the check
@given(noticed=STEPS, advised=STEPS, joined=st.booleans())
def test_no_stop_of_the_advice_is_missing_from_what_is_kept_and_shown_as_a_stop(
    noticed: list[str], advised: list[str], *, joined: bool
) -> None:
    steps = [*advised, *([" ".join(noticed)] if joined and noticed else noticed)]
    stops = tuple(Notice("caution", "check-past-cap", text) for text in noticed)
    check = replace(plain_check(), notices=(*stops, *plain_check().notices))
    rows = [("the whole field", i, "stop", text, ()) for i, text in enumerate(steps, 1)]
    rows.append(("the whole field", 9, "keep", "Keep the speed.", ()))
    advice = pd.DataFrame(rows, columns=list(check.advice.columns))
    told = with_every_stop(replace(check, advice=advice))
    kept = [row.reason for row in caution_rows(told, "c", 2026) if row.name in (*STOPS, STEP)]
    assert kept[: len(noticed)] == noticed  # in the order of the check, the gravest first
    assert all(_of(step, kept) for step in steps)
    assert "Keep the speed." not in kept
    assert [n for n in told if n.code != STEP] == list(check.notices)


def _of(text: str, parts: list[str]) -> bool:
    """Whether a text is made of `parts`, word for word."""
    for part in sorted(parts, key=len, reverse=True):
        text = text.replace(part, "")
    return not text.strip()


def test_a_stop_of_the_advice_alone_names_its_pit() -> None:
    text = "Stop: pit B8 was loosened 34 cm deep, where the service lifts the legs out."
    check = plain_check()
    rows = [("35 cm", 1, "stop", text, (7,)), ("42.5 cm", 1, "stop", text, (7,))]
    advice = pd.DataFrame(rows, columns=list(check.advice.columns))
    pits = check.pits.iloc[:1].assign(pit="B8")
    first, *_ = with_every_stop(replace(check, advice=advice, pits=pits))
    assert (first.code, first.level, first.text, first.pits) == (STEP, "caution", text, ("B8",))
