"""Turn a refusal into one message and exit status 1, and an internal fault into a short one."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import ParamSpec

import click

from zoning.errors import ZoningError, printable

P = ParamSpec("P")
_PASSING = (click.exceptions.Exit, click.Abort, click.ClickException, BrokenPipeError)


def refusing(command: Callable[P, None]) -> Callable[P, None]:
    """Wrap a command so that no traceback reaches the user.

    A `ZoningError` ends it with its message on stderr and status 1. Anything unforeseen ends it
    with status 1 too, a short message and a report file for the maintainers.
    """

    @functools.wraps(command)
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            command(*args, **kwargs)
        except ZoningError as refusal:
            click.echo(f"Refused. {printable(str(refusal))}", err=True)
            raise click.exceptions.Exit(1) from refusal
        except _PASSING:
            raise
        except Exception as fault:
            click.echo(unforeseen(fault), err=True)
            raise click.exceptions.Exit(1) from fault

    return wrapped


def unforeseen(fault: Exception) -> str:
    """Write the report of an internal fault and return the message that names it."""
    from zoning.cli.report import write_report

    if isinstance(fault, MemoryError):
        return "Stopped. The memory of this computer does not suffice. Nothing was written."
    report = write_report(fault)
    where = f"Send {report} to the maintainers" if report else "Tell the maintainers"
    kind = printable(f"{type(fault).__name__}: {fault}".replace("\n", " "))[:200]
    return (
        f"Stopped by a fault of the program, not of your files ({kind}). "
        f"No plan, check or form was left half written. {where}."
    )
