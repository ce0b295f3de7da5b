"""Writing a plan while things go wrong: the folder holds the old plan or the new one, whole.

    python tests/benchmarks/faults.py --kills 100 --step-kib 4

Kills at random moments (SIGKILL), a full disk at every step of a small memory file system (needs
the right to mount one), a limit on the size of files, a read-only folder, two runs at once, and
other clocks, locales, time zones and hash seeds. Prints one line a kind and ends with 1 if any
state was seen that must not be.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from invariants.fields import random_field

import zoning
from zoning.errors import OutputFailed
from zoning.model import Plan

KIB = 1024
SEED = 3
LONGEST_S = 60.0


def two_plans(place: Path) -> tuple[Plan, Plan, Path]:
    """Return two plans of one small field that differ in the assurance, and the field folder."""
    field = random_field(SEED)
    folder = field.write(place / "field")
    first = zoning.make_plan(zoning.read_field(folder))
    text = (folder / "field.toml").read_text()
    settings = text.replace("assurance = ", "assurance = 0.9", 1).replace("0.90.", "0.9")
    (folder / "field.toml").write_text(settings)
    return first, zoning.make_plan(zoning.read_field(folder)), folder


def state(folder: Path) -> str:
    """Return the number of the plan that `folder` holds whole; ``none`` or ``TORN`` otherwise."""
    if not folder.exists():
        return "none"
    try:
        document = json.loads((folder / "plan.json").read_text())
        told = {entry["name"]: entry["sha256"] for entry in document["outputs"]}
        held = {
            path.name: hashlib.sha256(path.read_bytes()).hexdigest()
            for path in folder.iterdir()
            if path.name != "plan.json"
        }
    except (OSError, ValueError, KeyError):
        return "TORN"
    return str(document["plan_id"]) if held == told else "TORN"


def in_child(work: Callable[[], object], *, kill_after_s: float | None = None) -> int:
    """Do `work` in a child process; return 0 done, 1 refused, 2 failed otherwise, -9 killed.

    This process must not have set a sheet itself: its threads would not live on in the child.
    """
    child = os.fork()
    if child == 0:
        status = 0
        try:
            work()
        except OutputFailed:
            status = 1
        except BaseException:  # noqa: BLE001 - whatever it was, the parent must hear of it
            status = 2
        os._exit(status)
    watch = threading.Timer(LONGEST_S if kill_after_s is None else kill_after_s, _kill, [child])
    watch.start()
    try:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    finally:
        watch.cancel()


def _kill(child: int) -> None:
    with suppress(ProcessLookupError):
        os.kill(child, signal.SIGKILL)


def kills(count: int, place: Path) -> Counter[str]:
    """Kill the writer at random moments, an old plan in place; look at what is left."""
    old, new, _ = two_plans(place)
    target, seen = place / "plan", Counter[str]()
    start = time.monotonic()
    in_child(lambda: zoning.write_plan(old, target))
    whole_s = time.monotonic() - start
    moments = random.Random(1)  # noqa: S311
    for number in range(count):
        plan = new if number % 2 else old
        status = in_child(
            lambda plan=plan: zoning.write_plan(plan, target),
            kill_after_s=moments.uniform(0, 1.1 * whole_s),
        )
        found = state(target)
        good = found in {old.plan_id, new.plan_id}
        seen["killed" if status == -9 else "done before the kill"] += 1
        seen["BAD" if not good else "whole"] += 1
    in_child(lambda: zoning.write_plan(new, target))
    seen["BAD" if sorted(p.name for p in place.glob(".plan*")) else "swept afterwards"] += 1
    return seen


@contextmanager
def memory_disk(place: Path, kib: int) -> Iterator[Path]:
    """Mount a memory file system of `kib` KiB."""
    folder = place / "disk"
    folder.mkdir(exist_ok=True)
    options = ["-t", "tmpfs", "-o", f"size={kib}k", "tmpfs", str(folder)]
    subprocess.run(["mount", *options], check=True, capture_output=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def full_disk(step_kib: int, place: Path) -> Counter[str]:
    """Write onto disks of growing size: with and without an older plan on them."""
    old, new, _ = two_plans(place)
    in_child(lambda: zoning.write_plan(old, place / "old"))
    size = sum(-(-path.stat().st_size // 4096) * 4 for path in (place / "old").iterdir())
    seen = Counter[str]()
    for kib in range(8, 2 * size + 64, step_kib):
        with memory_disk(place, kib) as disk:
            target, before = disk / "plan", "none"
            if kib > size + 8:
                shutil.copytree(place / "old", target)
                before = old.plan_id
            status = in_child(lambda target=target: zoning.write_plan(new, target))
            found = state(target)
            left = [path.name for path in disk.iterdir() if path.name != "plan"]
            good = found == (new.plan_id if status == 0 else before) and not left
            seen["written" if status == 0 else "refused" if status == 1 else "FAILED"] += 1
            seen["whole" if good else "BAD"] += 1
    return seen


def size_limit(place: Path) -> Counter[str]:
    """Let no file grow beyond a limit (RLIMIT_FSIZE), from 1 KiB up."""
    old, new, _ = two_plans(place)
    target, seen = place / "plan", Counter[str]()
    in_child(lambda: zoning.write_plan(old, target))
    for power in range(10, 24):

        def limited(most: int = 2**power) -> None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
            zoning.write_plan(new, target)

        before = state(target)
        status = in_child(limited)
        good = state(target) == (new.plan_id if status == 0 else before)
        seen["written" if status == 0 else "refused" if status == 1 else "FAILED"] += 1
        seen["whole" if good else "BAD"] += 1
    return seen


def read_only(place: Path) -> Counter[str]:
    """Write where nothing may be written: a read-only disk, and as another user."""
    _, new, _ = two_plans(place)
    seen = Counter[str]()
    shut = place / "shut"
    shut.mkdir()
    shut.chmod(0o555)

    def as_nobody() -> None:
        if os.geteuid() == 0:
            place.chmod(0o755)
            os.setuid(65534)
        zoning.write_plan(new, shut / "plan")

    seen["refused" if in_child(as_nobody) == 1 else "BAD"] += 1
    seen["whole" if not list(shut.iterdir()) else "BAD"] += 1
    return seen


def two_runs(count: int, place: Path) -> Counter[str]:
    """Start two writers into one folder at the same moment."""
    old, new, _ = two_plans(place)
    target, seen = place / "plan", Counter[str]()
    for _ in range(count):
        children = []
        for plan in (old, new):
            child = os.fork()
            if child == 0:
                try:
                    zoning.write_plan(plan, target)
                except OutputFailed:
                    os._exit(1)
                os._exit(0)
            children.append(child)
        statuses = [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children]
        good = 0 in statuses and set(statuses) <= {0, 1}
        good &= state(target) in {old.plan_id, new.plan_id}
        seen["one told to wait" if 1 in statuses else "one after the other"] += 1
        seen["whole" if good else "BAD"] += 1
    seen["BAD" if list(place.glob(".plan*")) else "swept afterwards"] += 1
    return seen


SURROUNDINGS = (
    {},
    {"TZ": "Pacific/Kiritimati"},
    {"LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"},
    {"LC_ALL": "tr_TR.UTF-8"},
    {"LC_ALL": "C"},
    {"PYTHONHASHSEED": "1"},
    {"PYTHONHASHSEED": "4294967295"},
    {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
    {"SOURCE_DATE_EPOCH": "4000000000"},
    {"COLUMNS": "20", "TERM": "dumb"},
)


def surroundings(place: Path) -> Counter[str]:
    """Plan in other time zones, locales, hash seeds and folders: the same bytes."""
    field = random_field(SEED).write(place / "field")
    seen, wanted = Counter[str](), ""
    for number, extra in enumerate(SURROUNDINGS):
        target = place / f"plan {number}"
        command = [
            str(Path(sys.executable).with_name("zoning")),
            "plan",
            str(field),
            "--out",
            str(target),
        ]
        subprocess.run([*command, "--quiet"], check=True, env={**os.environ, **extra}, cwd=place)
        digest = hashlib.sha256(
            b"".join(path.read_bytes() for path in sorted(target.iterdir()))
        ).hexdigest()
        wanted = wanted or digest
        seen["the same bytes" if digest == wanted else f"BAD {extra}"] += 1
    return seen


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--kills", type=int, default=20)
    options.add_argument("--step-kib", type=int, default=64)
    options.add_argument("--races", type=int, default=10)
    given = options.parse_args()
    kinds: dict[str, Callable[[Path], Counter[str]]] = {
        "kill -9 at random moments": lambda place: kills(given.kills, place),
        "disk full": lambda place: full_disk(given.step_kib, place),
        "limit on the size of a file": size_limit,
        "read-only folder": read_only,
        "two runs into one folder": lambda place: two_runs(given.races, place),
        "time zones, locales, hash seeds": surroundings,
    }
    bad = 0
    for name, work in kinds.items():
        with tempfile.TemporaryDirectory() as place:
            try:
                seen = work(Path(place))
            except (subprocess.CalledProcessError, PermissionError, FileNotFoundError) as error:
                print(f"{name}: cannot be tried here ({error})")
                continue
        bad += sum(n for kind, n in seen.items() if kind.startswith(("BAD", "FAILED")))
        print(
            f"{name}: " + ", ".join(f"{n} {kind}" for kind, n in sorted(seen.items())), flush=True
        )
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()
