from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from zoning.survey import next_names


def test_names_go_on_from_the_highest() -> None:
    assert next_names("S", ["S01", "S7", "P90", "north"], 3) == ["S08", "S09", "S10"]
    assert next_names("S", [], 2) == ["S01", "S02"]
    assert next_names("P", ["p3"], 1) == ["P04"]


@given(st.lists(st.from_regex(r"[SsP]?0{0,2}[0-9]{1,4}", fullmatch=True)), st.integers(0, 60))
def test_no_name_is_used_twice_nor_one_that_reads_alike(taken: list[str], count: int) -> None:
    names = next_names("S", taken, count)
    assert len({name.upper() for name in names}) == count
    numbers = {int(name[1:]) for name in taken if name[:1] in {"S", "s"}}
    assert not numbers & {int(name[1:]) for name in names}
