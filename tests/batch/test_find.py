"""Which fields a name stands for."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoning.batch import find_fields
from zoning.errors import InputRefused


@pytest.fixture
def county(tmp_path: Path) -> Path:
    for name in ("north/a", "north/b", "south/c"):
        (tmp_path / name).mkdir(parents=True)
        (tmp_path / name / "field.toml").touch()
    (tmp_path / "south" / "letters").mkdir()
    return tmp_path


def names(found: tuple[str, ...], county: Path) -> list[str]:
    return [Path(f).resolve().relative_to(county.resolve()).as_posix() for f in found]


def test_a_field_a_farm_and_a_pattern_are_found_once_each(county: Path) -> None:
    given_names = [str(county), str(county / "north" / "a"), str(county / "*" / "c")]
    assert names(find_fields(given_names), county) == ["north/a", "north/b", "south/c"]


def test_the_order_of_the_names_does_not_matter(county: Path) -> None:
    both = [str(county / "south"), str(county / "north")]
    assert find_fields(both) == find_fields(both[::-1])


def test_a_list_is_read_relative_to_itself_without_remarks(county: Path) -> None:
    (county / "list.txt").write_text("\ufeff# autumn\n\nnorth\nsouth/c\n", encoding="utf-8")
    found = find_fields([str(county / "list.txt")])
    assert names(found, county) == ["north/a", "north/b", "south/c"]


def test_a_folder_without_a_field_stays_so_that_its_outcome_says_so(county: Path) -> None:
    assert names(find_fields([str(county / "south" / "letters")]), county) == ["south/letters"]
    assert len(find_fields([str(county / "nowhere")])) == 1


@pytest.mark.parametrize("text", ["", "# nothing\n\n"])
def test_an_empty_list_is_refused_with_its_name(county: Path, text: str) -> None:
    (county / "list.txt").write_text(text, encoding="utf-8")
    with pytest.raises(InputRefused, match=r"list\.txt"):
        find_fields([str(county / "list.txt")])


def test_a_pattern_that_matches_nothing_is_refused(county: Path) -> None:
    with pytest.raises(InputRefused, match="west"):
        find_fields([str(county / "west*")])


def test_a_list_that_is_no_text_is_refused(county: Path) -> None:
    (county / "list.txt").write_bytes(b"\xff\xfe\x00north")
    with pytest.raises(InputRefused, match="UTF-8"):
        find_fields([str(county / "list.txt")])


@given(st.lists(st.sampled_from(["north", "south", "north/a", "south/c", "north/*"]), min_size=1))
def test_no_field_is_named_twice(tmp_path_factory: pytest.TempPathFactory, given: list) -> None:
    root = tmp_path_factory.getbasetemp() / "twice"
    for name in ("north/a", "north/b", "south/c"):
        (root / name).mkdir(parents=True, exist_ok=True)
        (root / name / "field.toml").touch()
    found = find_fields([str(root / name) for name in given])
    assert len({Path(f).resolve() for f in found}) == len(found) > 0
