"""What a batch tells while it runs and at its end."""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path

import click

from zoning.batch.job import DONE, Outcome
from zoning.batch.remote import is_address
from zoning.batch.rules import rule
from zoning.batch.settle import stops_of
from zoning.contracts import joined
from zoning.errors import printable
from zoning.units import S_PER_MIN

Heard = Callable[[Outcome], None]
_WORDS = {
    "planned": "planned",
    "kept": "kept (same inputs and version)",
    "refused": "refused",
    "failed": "failed",
    "set_aside": "set aside",
    "not_done": "not done",
}


@contextmanager
def shown(count: int, *, quiet: bool) -> Iterator[Heard]:
    """Yield a function that shows each outcome: a bar on a terminal, lines elsewhere.

    A failure, and a season record that could not be written, is a line as it happens, on stderr,
    even when `quiet`.
    """
    if quiet:
        yield _faults
    elif sys.stderr.isatty():
        with _bar(count) as heard:
            yield heard
    else:
        yield _Lines(count)


def account(outcomes: Sequence[Outcome], written: Sequence[Path]) -> str:
    """Return how many fields ended in which way, and what was written."""
    counts = Counter[str](outcome.status for outcome in outcomes)
    ways = ", ".join(f"{counts[key]} {word}" for key, word in _WORDS.items() if counts[key])
    area_ha = sum(o.facts.area_ha for o in outcomes if o.facts is not None)
    names = ", ".join(path.name for path in written)
    gone = "".join(
        f"{outcome.field}: gone with the earlier plan, whose files another program read: "
        f"{', '.join(outcome.gone)}\n"
        for outcome in outcomes
        if outcome.gone
    )
    fields = "1 field" if len(outcomes) == 1 else f"{len(outcomes)} fields"
    far = sum(outcome.status in DONE and is_address(outcome.field) for outcome in outcomes)
    behind = f"{far} behind an address: not in a season record\n" if far else ""
    return printable(
        f"{fields}: {ways}; {area_ha:.1f} ha planned\n"
        f"{gone}{behind}{_stopped(outcomes)}"
        f"Written to {written[0].parent}: {names}\n"
        "Each plan carries its own cautions: read them, and dig, before any leg goes in."
    )


def _stopped(outcomes: Sequence[Outcome]) -> str:
    """Return what stops the work of plans, a line each with the fields, as their pages have it."""
    told: dict[str, list[str]] = {}
    for outcome in outcomes:
        if outcome.facts is not None:
            for words in stops_of(asdict(outcome.facts)):
                told.setdefault(words, []).append(outcome.field)
    most = int(rule("named_fields_most"))
    return "".join(
        f"{joined(names if len(names) <= most else [*names[:most], f'{len(names) - most} more'])}"
        f": {words}\n"
        for words, names in sorted(told.items(), key=lambda item: not item[0].startswith("STOP"))
    )


def rate_words(done: int, count: int, seconds: float) -> str:
    """Return progress in words: fields done, rate, time left."""
    rate = done / seconds * S_PER_MIN if seconds > 0 else 0.0
    if rate <= 0:
        return f"{done} of {count} fields"
    left = (count - done) / rate
    return f"{done} of {count} fields, {rate:.1f} a minute, {_time_words(left)} left"


def _time_words(minutes: float) -> str:
    if minutes < 1:
        return f"{minutes * S_PER_MIN:.0f} s"
    if minutes < S_PER_MIN:
        return f"{minutes:.0f} min"
    return f"{minutes / S_PER_MIN:.1f} h"


def _lines(outcome: Outcome) -> list[str]:
    """Return why a field has no plan, or what its season record gave to tell."""
    failure = [] if outcome.status in DONE else [f"{outcome.status}: {outcome.error}"]
    return [printable(f"{outcome.field}: {line}") for line in (*failure, *outcome.told)]


def _faults(outcome: Outcome) -> None:
    for line in _lines(outcome):
        click.echo(line, err=True)


class _Lines:
    """Prints a line of progress now and then."""

    def __init__(self, count: int) -> None:
        self._count, self._done = count, 0
        self._start = self._last = time.monotonic()

    def __call__(self, outcome: Outcome) -> None:
        self._done += 1
        _faults(outcome)
        now = time.monotonic()
        if now - self._last >= rule("progress_every_s"):
            self._last = now
            click.echo(rate_words(self._done, self._count, now - self._start), err=True)


@contextmanager
def _bar(count: int) -> Iterator[Heard]:
    from rich.console import Console
    from rich.markup import escape
    from rich.progress import BarColumn, Progress, TextColumn

    words = TextColumn("{task.fields[words]}")
    start, done = time.monotonic(), 0
    with Progress(BarColumn(), words, console=Console(stderr=True)) as progress:
        task = progress.add_task("", total=count, words=f"{count} fields")

        def heard(outcome: Outcome) -> None:
            nonlocal done
            done += 1
            for line in _lines(outcome):
                progress.console.print(escape(line))
            told = rate_words(done, count, time.monotonic() - start)
            progress.update(task, completed=done, words=told)

        yield heard
