"""A zip within limits: only what its directory says is ever unpacked."""

from __future__ import annotations

import struct

import pytest
from readings.books import packed
from readings.small_field import blob, faults_of

from zoning.readings.archive import Limits, opened

LIMITS = Limits(64, 10, 100, "The zip", "Pack it again.", "Pack one alone.")


def names(data: bytes) -> list[str]:
    with opened(blob(data, "z.zip"), LIMITS) as archive:
        return sorted(archive.members)


def test_members_go_by_small_letters_and_folders_and_twin_forks_are_passed_over() -> None:
    data = packed({"A.txt": "a", "sub/": "", "__MACOSX/A.txt": "fork"})
    assert names(data) == ["a.txt"]
    with opened(blob(data), LIMITS) as archive:
        assert archive.read("a.txt") == b"a"


def test_a_fault_of_the_file_while_it_is_read_is_a_refusal() -> None:
    data = packed({"a.txt": "abc"})
    at = data.index(b"PK\x03\x04") + 14  # the checksum
    wrong = data[:at] + struct.pack("<I", 7) + data[at + 4 :]
    at = wrong.index(b"PK\x01\x02") + 16
    wrong = wrong[:at] + struct.pack("<I", 7) + wrong[at + 4 :]

    def read() -> None:
        with opened(blob(wrong, "z.zip"), LIMITS) as archive:
            archive.read("a.txt")

    assert faults_of(read) == ["z.zip: The zip file is broken. Pack it again."]


@pytest.mark.parametrize(
    ("members", "words"),
    [
        ({"../a": "x"}, "leaves its folder. Pack one alone."),
        ({"a": "x", "A": "y"}, "stands twice. Pack it again."),
        ({f"{i}": "" for i in range(65)}, "The zip holds 65 files."),
        ({"a": b"\0" * 20_000_000}, "The zip would unpack to 20.0 MB."),
    ],
)
def test_what_is_not_safe_is_refused(members: dict[str, str | bytes], words: str) -> None:
    (fault,) = faults_of(lambda: names(packed(members)))
    assert words in fault
