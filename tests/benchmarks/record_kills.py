"""Two writers of 500 pits each at one review page that is killed at 30 random moments.

The page runs as a user runs it; each writer sends the same form again until it is answered, as a
browser does. A save counts as acknowledged when its answer came. Prints what was lost and doubled.

    python tests/benchmarks/record_kills.py [--pits 500] [--kills 30] [--seed 1]
"""

from __future__ import annotations

import argparse
import os
import random
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
import uuid
from collections import Counter
from pathlib import Path

from zoning.records import Pit, open_record

SAMPLE = Path(__file__).parents[2] / "sample_data" / "teasel_piece"
PROGRAM = "import zoning.cli; zoning.cli.main()"


class Page:
    """The review page of a folder on one port, started again whenever it is killed."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.folder = folder
        self.run = self._started()

    def _started(self) -> subprocess.Popen[str]:
        command = [
            sys.executable,
            "-c",
            PROGRAM,
            "review",
            str(self.folder),
            "--port",
            str(self.port),
        ]
        run = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        assert run.stdout is not None
        while not run.stdout.readline().startswith("Stop"):
            if run.poll() is not None:
                raise SystemExit(run.stderr.read() if run.stderr else "the page did not start")
        return run

    def killed_and_started_again(self) -> float:
        os.kill(self.run.pid, signal.SIGKILL)
        self.run.wait()
        begun = time.monotonic()
        self.run = self._started()
        return time.monotonic() - begun


def token(url: str) -> str:
    with urllib.request.urlopen(f"{url}/new", timeout=30) as answer:  # noqa: S310
        found = re.search(r'name="token" value="([^"]+)"', answer.read().decode())
    assert found is not None
    return found[1]


def sent(url: str, form: dict[str, str]) -> int:
    """Send a form and return the status; 0 where no answer came."""
    data = urllib.parse.urlencode(form).encode()
    request = urllib.request.Request(f"{url}/save/pit", data, {"Origin": url})  # noqa: S310
    try:
        with urllib.request.build_opener(Still).open(request, timeout=60) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as fault:
        return fault.code
    except (OSError, ValueError):
        return 0


class Still(urllib.request.HTTPRedirectHandler):
    """Take a redirect as the answer."""

    def redirect_request(self, *_: object) -> None:
        return None


def write(url: str, who: str, count: int, acknowledged: list[str], tries: Counter[str]) -> None:
    """Save `count` pits one after the other, each until it is acknowledged."""
    key = ""
    for i in range(count):
        row = uuid.uuid4().hex
        form = {"row_id": row, "record_id": row, "version": "0", "phase": "after",
                "pit": f"{who}{i}", "lon": "0.8076", "lat": "52.7174",
                "loosened_at_leg_cm": "36"}  # fmt: skip
        while True:
            tries[row] += 1
            status = sent(url, form | {"token": key})
            if status == 303:
                acknowledged.append(row)
                break
            if status == 403:
                try:
                    key = token(url)
                except OSError:
                    time.sleep(0.05)
            elif status == 0:
                time.sleep(0.05)
            else:
                raise SystemExit(f"{who}{i}: status {status}")


def main() -> None:
    """Run it and print the account."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--pits", type=int, default=500)
    asked.add_argument("--kills", type=int, default=30)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    chance = random.Random(given.seed)  # noqa: S311
    with tempfile.TemporaryDirectory() as kept:
        folder = Path(kept) / "field"
        shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("truth", "plan", "records*"))
        page = Page(folder)
        url = f"http://127.0.0.1:{page.port}"
        acknowledged: list[str] = []
        tries: Counter[str] = Counter()
        writers = [
            threading.Thread(target=write, args=(url, who, given.pits, acknowledged, tries))
            for who in ("L", "R")
        ]
        begun = time.monotonic()
        for writer in writers:
            writer.start()
        starts = []
        marks = sorted(chance.sample(range(1, 2 * given.pits - 1), given.kills))
        for mark in marks:
            while len(acknowledged) < mark:
                time.sleep(0.001)
            time.sleep(chance.random() * 0.05)
            starts.append(page.killed_and_started_again())
        for writer in writers:
            writer.join()
        took = time.monotonic() - begun
        page.run.terminate()
        page.run.wait()
        entries = [e for e in open_record(folder).everything(Pit) if e.origin == "page"]
        rows = Counter(e.row_id for e in entries)
        names = Counter(e.body.pit for e in entries)
        lost = [row for row in acknowledged if row not in rows]
        again = sum(n - 1 for n in tries.values())
        print(f"pits sent            {2 * given.pits}")
        print(f"acknowledged         {len(acknowledged)}")
        print(f"kill -9              {len(starts)}, page back after {max(starts):.1f} s at most")
        print(f"forms sent again     {again}")
        print(f"kept                 {len(entries)}")
        print(f"acknowledged, lost   {len(lost)}")
        print(f"doubled              {sum(n > 1 for n in (*rows.values(), *names.values()))}")
        print(f"record               sound, {took:.0f} s in all")


if __name__ == "__main__":
    main()
