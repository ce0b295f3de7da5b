"""Write the corpus of broken input to a folder and, with ``--run``, the command's answer to each.

    python tests/corpus/make_corpus.py /tmp/corpus
    python tests/corpus/make_corpus.py /tmp/corpus --run --every 10

Each case gets a field folder. With ``--run`` the command plans it: exit status 1, one message, no
traceback, no file more than before are demanded, and time and memory are reported.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from corpus import broken_archives, broken_books, broken_settings, broken_shapes, broken_tables
from corpus.base import Case, write

FAMILIES = (broken_tables, broken_settings, broken_shapes, broken_archives, broken_books)
MOST_BYTES = 4 * 10**9


def limited() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))


def answer(folder: Path, case: Case) -> tuple[list[str], float]:
    """Return what is wrong with the command's answer to `case`, and how long it took [s]."""
    before = sorted(path.name for path in folder.iterdir())
    start = time.monotonic()
    done = subprocess.run(
        [str(Path(sys.executable).with_name("zoning")), "plan", str(folder)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        preexec_fn=limited,
    )
    wrong = []
    if done.returncode != 1:
        wrong.append(f"exit status {done.returncode}")
    if "Traceback" in done.stderr or not done.stderr.startswith("Refused. "):
        wrong.append(f"said {done.stderr[:200]!r}")
    if case.file not in done.stderr:
        wrong.append(f"does not name {case.file}")
    if done.stdout or sorted(path.name for path in folder.iterdir()) != before:
        wrong.append("wrote something")
    return wrong, time.monotonic() - start


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("folder", type=Path)
    options.add_argument("--run", action="store_true")
    options.add_argument("--every", type=int, default=1, help="take each so manieth case only")
    given = options.parse_args()
    cases = [case for family in FAMILIES for case in family.cases()][:: given.every]
    failed, slowest = 0, 0.0
    for number, case in enumerate(cases):
        folder = write(given.folder / f"{number:04d}", case.files)
        if not given.run:
            continue
        wrong, seconds = answer(folder, case)
        failed, slowest = failed + bool(wrong), max(slowest, seconds)
        for each in wrong:
            print(f"{case.name}: {each}")  # noqa: T201
    memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e3
    print(  # noqa: T201
        f"{len(cases)} cases, {failed} not as demanded, slowest {slowest:.1f} s, {memory:.0f} MB"
    )


if __name__ == "__main__":
    main()
