"""Twenty requests a second for a minute from eight clients at one review page.

Of twenty requests eight look at the first page, eight at a pit, two at the form, two save a new
pit. Each client keeps its own beat whatever the answers take, so that a slow answer does not thin
out the load. Prints the 50th, 95th and 99th percentile of the time to the whole answer.

    python tests/benchmarks/review_load.py [--seconds 60] [--rate 20] [--clients 8]
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
import threading
import time
import urllib.request
import uuid
from pathlib import Path

import numpy as np
from click.testing import CliRunner
from record_kills import SAMPLE, Page, sent, token

from zoning.cli import main as zoning
from zoning.records import Pit, open_record


def ask(url: str, path: str) -> int:
    with urllib.request.urlopen(url + path, timeout=60) as answer:  # noqa: S310
        answer.read()
        return int(answer.status)


def save(url: str, key: str, name: str) -> int:
    row = uuid.uuid4().hex
    form = {"token": key, "row_id": row, "record_id": row, "version": "0", "phase": "after",
            "pit": name, "lon": "0.8076", "lat": "52.7174", "loosened_at_leg_cm": "36"}  # fmt: skip
    return sent(url, form)


def client(
    url: str, who: int, ids: list[str], beats: list[float], found: list[tuple[str, float, int]]
) -> None:
    """Send one request at each beat."""
    key = token(url)
    for i, beat in enumerate(beats):
        time.sleep(max(0.0, beat - time.monotonic()))
        turn = (i * 7 + who * 3) % 10
        begun = time.monotonic()
        if turn == 0:
            kind, status = "save", save(url, key, f"C{who}-{i}")
        elif turn == 1:
            kind, status = "form", ask(url, "/new")
        elif turn < 6:
            kind, status = "pit", ask(url, f"/pit/{ids[(who + i) % len(ids)]}")
        else:
            kind, status = "first page", ask(url, "/")
        found.append((kind, time.monotonic() - begun, status))


def main() -> None:
    """Run it and print the account."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--seconds", type=int, default=60)
    asked.add_argument("--rate", type=float, default=20.0)
    asked.add_argument("--clients", type=int, default=8)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as kept:
        folder = Path(kept) / "field"
        shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("truth", "plan", "records*"))
        done = CliRunner().invoke(zoning, ["plan", str(folder), "--quiet"])
        assert done.exit_code == 0, done.output
        page = Page(folder)
        url = f"http://127.0.0.1:{page.port}"
        ids = [e.record_id for e in open_record(folder).latest(Pit)]
        found: list[tuple[str, float, int]] = []
        start = time.monotonic() + 1.0
        every = [start + i / given.rate for i in range(int(given.seconds * given.rate))]
        clients = [
            threading.Thread(
                target=client, args=(url, who, ids, every[who :: given.clients], found)
            )
            for who in range(given.clients)
        ]
        for one in clients:
            one.start()
        for one in clients:
            one.join()
        took = time.monotonic() - start
        page.run.terminate()
        page.run.wait()
    print(f"{len(found)} requests in {took:.1f} s, {len(found) / took:.1f} a second")
    print(f"answers that were no success: {sum(s not in (200, 303) for _, _, s in found)}")
    for kind in ("all", "first page", "pit", "form", "save"):
        times = [1000 * t for k, t, _ in found if kind in ("all", k)]
        p50, p95, p99 = np.percentile(times, [50, 95, 99])
        print(f"{kind:11} {len(times):5}  p50 {p50:5.0f} ms  p95 {p95:5.0f} ms  p99 {p99:5.0f} ms")


if __name__ == "__main__":
    main()
