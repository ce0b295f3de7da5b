"""Turn a refusal into one message and exit status 1."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import ParamSpec

import click

from zoning.errors import ZoningError, printable

P = ParamSpec("P")


def refusing(command: Callable[P, None]) -> Callable[P, None]:
    """Wrap a command so that a `ZoningError` ends it with its message on stderr and status 1."""

    @functools.wraps(command)
    def wrapped(*args: P.args, **kwargs: P.kwargs) -> None:
        try:
            command(*args, **kwargs)
        except ZoningError as refusal:
            click.echo(f"Refused. {printable(str(refusal))}", err=True)
            raise click.exceptions.Exit(1) from refusal

    return wrapped
