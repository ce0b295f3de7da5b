"""The access code, where others on the network may reach the page."""

from __future__ import annotations

import secrets
import threading
import time
from collections import deque

from flask import Flask, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from zoning.review.desk import Desk
from zoning.review.guard import COOKIE
from zoning.review.rules import rule


class Tries:
    """Wrong codes of the last minute, whoever gave them."""

    def __init__(self) -> None:
        self._times: deque[float] = deque()
        self._lock = threading.Lock()

    def full(self) -> bool:
        """Whether everyone has to wait."""
        with self._lock:
            while self._times and time.monotonic() - self._times[0] > 60:
                self._times.popleft()
            return len(self._times) >= rule("code_tries")

    def wrong(self) -> None:
        """Count a wrong code."""
        with self._lock:
            self._times.append(time.monotonic())


def register(app: Flask, desk: Desk) -> None:
    """Add the page that asks for the code."""
    tries = Tries()

    @app.get("/enter")
    def enter() -> str:
        return render_template("enter.html", fault="")

    @app.post("/enter")
    def entered() -> Response:
        if tries.full():
            page = render_template("enter.html", fault="Too many wrong codes. Wait a minute.")
            return make_response(page, 429)
        given = request.form.get("code", "").strip().upper()
        if not desk.code or not secrets.compare_digest(given.encode(), desk.code.encode()):
            tries.wrong()
            page = render_template("enter.html", fault="That is not the code on the screen.")
            return make_response(page, 403)
        answer = redirect(url_for("overview"), 303)
        answer.set_cookie(COOKIE, f"in-{desk.token}", httponly=True, samesite="Strict")
        return answer
