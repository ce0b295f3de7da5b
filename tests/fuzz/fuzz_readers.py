"""Fuzz the readers: only a refusal may leave them, whatever the bytes.

    pip install atheris
    mkdir found
    python tests/fuzz/fuzz_readers.py cone found -max_total_time=600

Targets: cone, pits, trials, settings, geojson, xml, book, zip. It begins with the corpus of broken
input and with what earlier runs kept (`tests/fuzz/seeds`); what takes a new branch goes into the
folder that is named. A find goes into `tests/corpus` as a case, and what is worth keeping into the
zip of the target: ``(cd found && zip -X -r ../tests/fuzz/seeds/cone.zip .)``. Options after the
folder are libFuzzer's.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

sys.path.insert(0, str(Path(__file__).parents[1]))

with atheris.instrument_imports(include=["zoning"]):
    from fuzz.targets import once, seeds


def main() -> None:
    name = sys.argv.pop(1)
    start = Path(tempfile.mkdtemp(prefix=f"fuzz-{name}-"))
    for number, seed in enumerate(seeds(name)):
        (start / str(number)).write_bytes(seed)
    # A busy machine halts a process for seconds, and the fuzzer itself grows by 2 kB a run.
    limits = ["-max_len=65536", "-timeout=60", "-rss_limit_mb=4096"]
    atheris.Setup([*sys.argv, *limits, str(start)], lambda data: once(name, data))
    atheris.Fuzz()


if __name__ == "__main__":
    main()
