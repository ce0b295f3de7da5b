"""A refusal is one message, an internal fault a short one with a report: never a traceback."""

from __future__ import annotations

from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from zoning.cli.guard import refusing
from zoning.errors import Fault, InputRefused


@pytest.fixture(autouse=True)
def _here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def run(fault: BaseException | None) -> Result:
    @click.command()
    @refusing
    def command() -> None:
        if fault is not None:
            raise fault

    return CliRunner().invoke(command, [])


def reports(folder: Path) -> list[Path]:
    return sorted(folder.glob("zoning-fault-*.txt"))


def test_a_refusal_is_its_message_once_and_no_report(tmp_path: Path) -> None:
    fault = Fault("a.csv", "Bad \x1b[2J.", "Mend it.", row=3)  # of a file that two roles name
    done = run(InputRefused([fault, fault]))
    assert done.exit_code == 1
    assert done.stderr == "Refused. a.csv:3: Bad \\x1b[2J. Mend it.\n"
    assert reports(tmp_path) == []


@pytest.mark.parametrize("fault", [KeyError("x"), ZeroDivisionError(), RecursionError("deep\nend")])
def test_an_internal_fault_is_short_and_leaves_a_report(tmp_path: Path, fault: Exception) -> None:
    done = run(fault)
    assert done.exit_code == 1
    assert done.stderr.count("\n") == 1
    assert "Traceback" not in done.stderr
    (report,) = reports(tmp_path)
    assert report.name in done.stderr
    text = report.read_text()
    assert "Traceback" in text
    assert type(fault).__name__ in text
    assert "shapely" in text


def test_the_same_fault_twice_leaves_one_report(tmp_path: Path) -> None:
    for _ in range(2):
        run(KeyError("x"))
    assert len(reports(tmp_path)) == 1


def test_where_nothing_can_be_written_here_it_goes_to_the_temporary_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    gone, temporary = tmp_path / "gone", tmp_path / "temporary"
    gone.mkdir()
    temporary.mkdir()
    monkeypatch.chdir(gone)
    monkeypatch.setattr("tempfile.tempdir", str(temporary))
    gone.rmdir()
    done = run(ValueError("x"))
    assert done.exit_code == 1
    assert [str(path) in done.stderr for path in reports(temporary)] == [True]


def test_too_little_memory_is_said(tmp_path: Path) -> None:
    done = run(MemoryError())
    assert done.exit_code == 1
    assert "memory" in done.stderr
    assert reports(tmp_path) == []


@pytest.mark.parametrize(("fault", "status"), [(click.UsageError("how"), 2), (click.Abort(), 1)])
def test_wrong_usage_and_a_break_keep_their_status(fault: Exception, status: int) -> None:
    assert run(fault).exit_code == status
    assert run(None).exit_code == 0
