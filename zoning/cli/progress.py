"""Which step the work is at, shown on a terminal only."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def steps_shown(*, quiet: bool) -> Iterator[Callable[[str], None]]:
    """Yield a function that shows the name of the step now at work; silent off a terminal."""
    if quiet or not sys.stderr.isatty():
        yield lambda _step: None
        return
    from rich.console import Console

    console = Console(stderr=True)
    with console.status("reading the field folder") as status:
        yield status.update
