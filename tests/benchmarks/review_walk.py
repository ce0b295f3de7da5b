"""A hostile walk over the review page as a user starts it: raw requests over real connections.

Foreign names and origins, missing tokens, odd methods and requests, bodies too large or with two
lengths, paths that climb, script in what is saved, connections that say nothing or drip, and how
long another user waits meanwhile. Prints a line a kind and ends with 1 where something was answered
that should not be, or the program failed.

    python tests/benchmarks/review_walk.py [--connections 300] [--seconds 25]
"""

from __future__ import annotations

import argparse
import re
import shutil
import signal
import socket
import sys
import tempfile
import threading
import time
import uuid
from collections import Counter
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from urllib.parse import urlencode

from record_kills import SAMPLE, Page, token

SCRIPT = '"><script>alert(1)</script><img src=x onerror=alert(2)>'
MOST_WAIT_S = 20.0


def asked(port: int, data: bytes, *, patience_s: float = 30.0) -> tuple[int, bytes]:
    """Send bytes and return status and answer; 0 where the connection was closed without one."""
    answer = b""
    with socket.create_connection(("127.0.0.1", port), timeout=patience_s) as link:
        with suppress(OSError):
            link.sendall(data)
        with suppress(OSError):
            while part := link.recv(65536):
                answer += part
    found = re.match(rb"HTTP/1\.[01] (\d{3})", answer)
    return int(found[1]) if found else 0, answer


def request(
    port: int, path: str = "/", method: str = "GET", body: bytes = b"", **headers: str
) -> tuple[int, bytes]:
    """Ask as our own page would; `headers` replace its own, underscores for hyphens."""
    own = {"Host": f"127.0.0.1:{port}", "Connection": "close"}
    if method == "POST":
        own |= {
            "Origin": f"http://127.0.0.1:{port}",
            "Content-Type": "application/x-www-form-urlencoded",
            "Content-Length": str(len(body)),
        }
    told = own | {name.replace("_", "-"): value for name, value in headers.items()}
    head = "".join(f"{name}: {value}\r\n" for name, value in told.items() if value != "-")
    return asked(port, f"{method} {path} HTTP/1.1\r\n{head}\r\n".encode("latin-1") + body)


def form(key: str, **fields: str) -> bytes:
    row = uuid.uuid4().hex
    own = {"token": key, "row_id": row, "record_id": row, "version": "0", "phase": "after",
           "pit": "W1", "lon": "0.8076", "lat": "52.7174"}  # fmt: skip
    return urlencode(own | fields).encode()


def tally(answers: Iterable[tuple[int, bytes]], allowed: set[int]) -> Counter[str]:
    seen = Counter[str]()
    for status, answer in answers:
        seen[str(status or "closed")] += 1
        if status not in allowed or b"Traceback" in answer:
            seen["BAD"] += 1
    return seen


def foreign(port: int, key: str) -> Counter[str]:
    """Foreign hosts, origins, sites and tokens."""
    hosts = ("evil.example", "localhost.", "127.1", "0.0.0.0", "2130706433", "[::1]", "127.0.0.1@e",  # noqa: S104
             "169.254.169.254", "evil.example:80", "127.0.0.1.evil.example", "")  # fmt: skip
    found = [request(port, Host=host) for host in hosts]
    origins = ("http://evil.example", "null", f"https://127.0.0.1:{port}", "http://127.0.0.1", "-")
    found += [request(port, "/save/pit", "POST", form(key), Origin=origin) for origin in origins]
    sites = ("cross-site", "same-site", "none")
    found += [request(port, "/save/pit", "POST", form(key), Sec_Fetch_Site=site) for site in sites]
    tokens = ("", "x", "\u00e9", key[:-1])
    found += [request(port, "/save/pit", "POST", form(bad)) for bad in tokens]
    return tally(found, {400, 403})


def methods(port: int, key: str) -> Counter[str]:
    """Methods that look and save nothing, and requests that are none."""
    found = [
        request(port, path, method)
        for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "BREW")
        for path in ("/", "/save/pit")
    ]
    own = f"Host: 127.0.0.1:{port}\r\n".encode()
    save, end = b"POST /save/pit HTTP/1.1\r\n" + own, b"Connection: close\r\n\r\n"
    long, chunked = b"a" * 300_000, b"Transfer-Encoding: chunked\r\n"
    raw = (
        b"\r\n\r\n", b"GET\r\n\r\n", b"\x16\x03\x01\x02\x00", b"GET / HTTP/9.9\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + own + b"Host: evil.example\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + own + b"X: " + long + b"\r\n\r\n",
        b"GET /" + long + b" HTTP/1.1\r\n" + own + b"\r\n",
        b"GET / HTTP/1.1\r\nHost : 127.0.0.1\r\n\r\n", b"GET / HTTP/1.1\r\n\r\n",
        save + b"Content-Length: 5\r\n" + chunked + end + b"0\r\n\r\nGET /x HTTP/1.1\r\n",
        save + b"Content-Length: -1\r\n\r\n",
        save + b"Content-Length: 5\r\nContent-Length: 6\r\n\r\nabcde",
        save + chunked + end + b"ZZ\r\n\r\n",
    )  # fmt: skip
    found += [asked(port, data, patience_s=15) for data in raw]
    return tally(found, {0, 400, 403, 404, 405, 413, 414, 431, 501, 505})


def climbing(port: int, _key: str) -> Counter[str]:
    """Paths that lead out of the folders of the page."""
    ends = ("etc/passwd", "field.toml", "records.gpkg")
    dots = ("../", "..%2f", "%2e%2e/", "..\\", "..%5c", "....//", "%252e%252e/", "..%c0%af", "/")
    found = [
        request(port, f"/{place}/{dot * 6}{end}")
        for place in ("photo", "map", "own", "pit", "zone")
        for dot in dots
        for end in ends
    ]
    odd = (
        "/photo/%00", "/pit/%00", "/zone/-1", "/zone/" + "9" * 400, "/pit/" + "a" * 4000,
        "/photo/" + "0" * 64, "/own/%2e%2e%2fapp.py", "//evil.example/", "/%ff%fe", "/?q=%ff",
    )  # fmt: skip
    found += [request(port, path) for path in odd]
    seen = tally(found, {200, 303, 308, 400, 404})
    seen["BAD"] += sum(
        b"root:" in text or b"[field]" in text or b"SQLite" in text for _, text in found
    )
    return +seen


def large(port: int, key: str) -> Counter[str]:
    """Bodies that are too large, told or not told beforehand, and forms of many parts."""
    most = b"x" * 1_000_000
    found = [
        request(port, "/save/pit", "POST", form(key, note="x" * 400_000)),
        request(port, "/save/pit", "POST", b"&".join(b"a%d=1" % i for i in range(100_000))),
        request(port, "/save/pit", "POST", most * 30),
        request(port, "/save/pit", "POST", most * 120),
        request(port, "/save/pit", "POST", b"", Content_Length="99999999999"),
    ]
    parts = b"".join(
        b'--b\r\nContent-Disposition: form-data; name="a%d"\r\n\r\n1\r\n' % i for i in range(5000)
    )
    kind = "multipart/form-data; boundary=b"
    found.append(request(port, "/save/pit", "POST", parts + b"--b--\r\n", Content_Type=kind))
    head = (
        f"POST /save/pit HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nOrigin: http://127.0.0.1:{port}\r\n"
    )
    chunks = b"".join(b"F4240\r\n" + most + b"\r\n" for _ in range(120))
    chunked = f"{head}Transfer-Encoding: chunked\r\nConnection: close\r\n\r\n".encode() + chunks
    found.append(asked(port, chunked + b"0\r\n\r\n"))
    return tally(found, {0, 400, 403, 413})


def stored(port: int, key: str) -> Counter[str]:
    """Script saved in every field of a pit and shown on every page."""
    saved = request(
        port, "/save/pit", "POST", form(key, pit=SCRIPT, note=SCRIPT, recorded_by=SCRIPT)
    )
    found = [saved]
    where = re.search(rb"Location: (\S+)", saved[1])
    if where:
        path = re.sub(r"^http://[^/]+", "", where[1].decode())
        pit = path.partition("?")[0].rstrip("/")
        found += [request(port, p) for p in (path, pit + "/trail", pit + "/correct")]
    found += [request(port, path) for path in ("/", "/new", "/seasons", "/export", "/zone/1")]
    seen = tally(found, {200, 303, 404})
    seen["BAD"] += not where
    seen["BAD"] += sum(b"<script>alert" in text or b"<img src=x" in text for _, text in found)
    return +seen


def crowd(port: int, count: int, seconds: float, kind: str) -> tuple[float, int]:
    """Hold connections open that say nothing, or drip; return another user's longest wait."""
    head = f"POST /save/pit HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
    begun = {
        "silent": b"", "slow heads": b"GET / HTTP/1.1\r\nX: ",
        "slow bodies": f"{head}Content-Length: 100000\r\n\r\n".encode(),
    }[kind]  # fmt: skip
    links: list[socket.socket] = []
    done = threading.Event()

    def hold() -> None:
        for _ in range(count):
            with suppress(OSError):
                link = socket.create_connection(("127.0.0.1", port), timeout=2)
                link.sendall(begun)
                links.append(link)
        while begun and not done.wait(2.0):
            for link in links:
                with suppress(OSError):
                    link.sendall(b"a")

    threading.Thread(target=hold, daemon=True).start()
    time.sleep(1.0)
    end, longest, refused = time.monotonic() + seconds, 0.0, 0
    while time.monotonic() < end:
        start = time.monotonic()
        status = 0
        with suppress(OSError):
            status, _ = request(port, "/new")
        refused += status != 200
        longest = max(longest, time.monotonic() - start)
        time.sleep(0.2)
    done.set()
    for link in links:
        link.close()
    return longest, refused


def open_files(pid: int) -> int:
    return len(list(Path(f"/proc/{pid}/fd").iterdir()))


def memory_mb(pid: int) -> float:
    text = Path(f"/proc/{pid}/status").read_text()
    return int(re.search(r"VmRSS:\s+(\d+)", text)[1]) / 1024  # type: ignore[index]


def main() -> None:
    """Run it and print the account."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--connections", type=int, default=300)
    options.add_argument("--seconds", type=float, default=25.0)
    given = options.parse_args()
    bad = 0
    with tempfile.TemporaryDirectory() as kept:
        folder = Path(kept) / "field"
        shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("truth", "plan", "records*"))
        page = Page(folder)
        port, pid = page.port, page.run.pid
        key = token(f"http://127.0.0.1:{port}")
        before, at_rest = open_files(pid), memory_mb(pid)
        for walk in (foreign, methods, climbing, large, stored):
            seen = walk(port, key)
            bad += seen["BAD"]
            print(f"{walk.__name__:12} " + ", ".join(f"{n} {k}" for k, n in sorted(seen.items())))
        print(f"memory {at_rest:.0f} MB before, {memory_mb(pid):.0f} MB after", flush=True)
        for kind in ("silent", "slow heads", "slow bodies"):
            wait_s, refused = crowd(port, given.connections, given.seconds, kind)
            bad += refused + (wait_s > MOST_WAIT_S)
            told = f"another waits {wait_s:.1f} s at most, {refused} refused"
            print(f"{given.connections} {kind}: {told}", flush=True)
            time.sleep(5)
        time.sleep(10)
        print(f"open files {before} before, {open_files(pid)} after")
        bad += open_files(pid) > before + 2
        start = time.monotonic()
        page.run.send_signal(signal.SIGINT)
        _, errors = page.run.communicate(timeout=60)
        print(f"stopped after {time.monotonic() - start:.1f} s, status {page.run.returncode}")
        bad += "Traceback" in errors
        if "Traceback" in errors:
            print(errors[-3000:])
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()
