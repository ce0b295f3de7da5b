"""Pages set by typst: a template and plain facts in, PDF or PNG out."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any, Literal

import typst

from zoning.contracts import constant
from zoning.errors import OutputFailed

_NO_LETTER = "could not be displayed"
_KEPT = 10  # typst keeps the work of so many pages, in case one of them is set again
_BLANK = b"#set page(width: 1pt, height: 1pt)"


class LetterMissing(Exception):
    """A text holds a letter that no font on this computer can show; PDF/UA-1 refuses it."""


def pdf(what: str, template: bytes, facts: Mapping[str, Any], *, accessible: bool = True) -> bytes:
    """Return `facts` set as a tagged PDF.

    Parameters
    ----------
    what
        What is set, for the message of a fault.
    template
        A template of typst that reads ``sys.inputs.data``.
    facts
        What JSON can hold.
    accessible
        Whether the PDF must keep PDF/UA-1.

    Raises
    ------
    LetterMissing
        If it must and a letter cannot be shown.
    OutputFailed
        If the page cannot be set.
    """
    standard: Literal["ua-1"] | None = "ua-1" if accessible else None
    try:
        return typst.compile(
            template, format="pdf", pdf_standards=standard, sys_inputs=_inputs(facts)
        )
    except typst.TypstError as fault:
        if accessible and _NO_LETTER in str(fault):
            raise LetterMissing from fault
        raise OutputFailed(f"{what} could not be set: {fault}") from fault


def png(what: str, template: bytes, facts: Mapping[str, Any]) -> bytes:
    """Return `facts` set as a picture; parameters as those of `pdf`.

    Raises
    ------
    OutputFailed
        If the page cannot be set.
    """
    dots = constant("drawing_rules", "picture_dpi")
    try:
        return typst.compile(template, format="png", ppi=dots, sys_inputs=_inputs(facts))
    except typst.TypstError as fault:
        raise OutputFailed(f"{what} could not be set: {fault}") from fault


def in_background(setting: Callable[[], bytes]) -> Future[bytes]:
    """Begin `setting` in a thread of its own; typst lets others run while it works.

    Only `pdf` and `png` belong there, whose facts are text and numbers: outlines are not made to be
    read by two threads at once. A process that is told to use one thread (``RAYON_NUM_THREADS``, by
    which typst goes too) sets the page there and then: each further thread would take memory of its
    own from the system and keep it.
    """
    if os.environ.get("RAYON_NUM_THREADS") == "1":
        return _at_once(setting)
    pool = ThreadPoolExecutor(max_workers=1)
    begun = pool.submit(setting)
    pool.shutdown(wait=False)
    return begun


def _at_once(setting: Callable[[], bytes]) -> Future[bytes]:
    done: Future[bytes] = Future()
    try:
        done.set_result(setting())
    except (LetterMissing, OutputFailed) as fault:
        done.set_exception(fault)
    return done


def forget_pages() -> None:
    """Let typst drop the work it keeps of earlier pages: 70 MB a sheet, and no two are alike."""
    for _ in range(_KEPT + 1):
        typst.compile(_BLANK, format="svg", ignore_system_fonts=True)


def _inputs(facts: Mapping[str, Any]) -> dict[str, str]:
    return {"data": json.dumps(facts, sort_keys=True, allow_nan=False)}
