"""The key of the map of a check explains what is drawn, and only that."""

from __future__ import annotations

import re
from dataclasses import replace

from outputs.small_check import pits, small_check, with_hazards

from zoning.outputs.check.drawing import SIGNS
from zoning.outputs.check.key import check_key
from zoning.outputs.drawing.pit_signs import sign_name


def words(text: str) -> list[str]:
    return re.findall("<span>(.*?)</span>", text)


def test_every_sign_and_hazard_met_is_explained() -> None:
    check = small_check()
    told = words(check_key(check))
    for verdict in set(check.pits["verdict"]):
        assert SIGNS[sign_name("after", verdict=verdict)] in told
    # Of 60 cm of cover the plan keeps the 15 above the drain free, and nobody works over a service.
    assert (
        "H1 drain, &lt;old&gt; tile, cover 60 cm: no deeper than 45 cm within 1.5 m each side"
        in told
    )
    assert "H2 service, cover not known: legs lifted out within 3 m each side" in told
    assert ("dig here next" in told) == bool(len(check.dig_next))


def test_what_is_not_drawn_is_not_explained() -> None:
    check = small_check()
    bare = replace(with_hazards(check, check.hazards.iloc[:0]), dig_next=check.dig_next.iloc[:0])
    told = words(check_key(bare))
    assert not {"drain", "service"} & {word for line in told for word in line.split()}
    assert "dig here next" not in told
    assert SIGNS["reached"] not in told


def test_why_nothing_can_be_told_is_said_beside_its_sign() -> None:
    check = small_check()
    assert "cannot_tell" in set(check.zones["verdict"])
    assert "? cannot tell: too few pits, or they do not agree" in words(check_key(check))


def test_each_entry_has_a_picture() -> None:
    text = check_key(small_check())
    assert text.count("<svg") == text.count("<li>") == len(words(text))


def test_the_key_promises_a_depth_only_where_there_is_room_and_explains_pits_before() -> None:
    check = small_check()
    told = words(check_key(check))
    assert any("where there is room" in line for line in told)
    assert SIGNS["pan"] not in told
    first = pits().iloc[[0]].assign(phase="before", pan="yes")
    known = replace(check, inputs=replace(check.inputs, pits=first))
    assert SIGNS["pan"] in words(check_key(known))
    assert SIGNS["before"] not in words(check_key(known))
