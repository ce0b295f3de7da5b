"""The web application: settings, guard and pages put together."""

from __future__ import annotations

from http import HTTPStatus

from flask import Flask, render_template
from jinja2 import StrictUndefined
from markupsafe import Markup
from werkzeug.exceptions import HTTPException, RequestEntityTooLarge, SecurityError

from zoning.errors import InputRefused, ZoningError
from zoning.outputs.drawing.pit_signs import PIT_SIGNS, pit_sign
from zoning.records import new_id
from zoning.records.rules import rule as record_rule
from zoning.review import entering, exporting, pages, saving
from zoning.review.desk import Desk
from zoning.review.forms import label, shown
from zoning.review.guard import install_guard
from zoning.review.rules import rule
from zoning.review.warnings import check_warnings, unsettled
from zoning.review.words import WORDS


def make_app(desk: Desk, hosts: tuple[str, ...] = ("127.0.0.1", "localhost")) -> Flask:
    """Return the application for a field.

    Parameters
    ----------
    desk
        What the pages share.
    hosts
        Names under which the page may be asked for; ``*`` stands for any numeric address.
    """
    app = Flask(__name__, static_folder="static", static_url_path="/own")
    form_bytes = int(rule("form_kb") * 1e3)
    app.config.update(
        MAX_CONTENT_LENGTH=int(record_rule("photo_upload_mb") * 1e6) + form_bytes,
        MAX_FORM_MEMORY_SIZE=form_bytes,
        MAX_FORM_PARTS=int(rule("form_parts")),
        # Flask takes no IPv6 address here; the guard looks at every name itself.
        TRUSTED_HOSTS=None if any(name[:1] in "*[" for name in hosts) else list(hosts),
    )
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.globals.update(
        desk=desk,
        label=label,
        shown=shown,
        words=WORDS,
        signs=PIT_SIGNS,
        sign_of=lambda name: Markup(pit_sign(name, 11, 11, 6.2)),  # noqa: S704 - our own code
        make_id=new_id,
        stop_stands=lambda about, about_id: pages.stop_stands(desk, about, about_id),
        warnings_now=lambda: check_warnings(desk.record, desk.season),
        unsettled_now=lambda: unsettled(desk.record, desk.season),
        photo_bytes=int(record_rule("photo_upload_mb") * 1e6),
    )
    install_guard(app, desk, hosts)
    for part in (pages, saving, exporting, entering):
        part.register(app, desk)
    _register_faults(app)
    return app


def _register_faults(app: Flask) -> None:
    def refused(fault: ZoningError) -> tuple[str, int]:
        status = 400 if isinstance(fault, InputRefused) else 503
        return render_template("fault.html", title="That did not work", text=str(fault)), status

    def foreign(_: SecurityError) -> tuple[str, int, dict[str, str]]:
        # Without a host of ours there are no pages to link to.
        return "This page is asked for under a foreign name.", 400, {"Content-Type": "text/plain"}

    def failed(fault: HTTPException) -> tuple[str, int]:
        text = fault.description or ""
        if isinstance(fault, RequestEntityTooLarge):
            most = f"{record_rule('photo_upload_mb'):g} MB"
            text = f"What was sent is too large; a photo may have {most}. Nothing was "
            text += "saved; go back with the browser, where what you typed still stands."
        if fault.code == HTTPStatus.INTERNAL_SERVER_ERROR:
            text = "The program failed here; what it says stands in its own window. Look whether "
            text += "what you saved is in the list, and save it again if not."
        title = {404: "There is no such page"}.get(fault.code or 500, "That did not work")
        return render_template("fault.html", title=title, text=text), fault.code or 500

    app.register_error_handler(ZoningError, refused)
    app.register_error_handler(HTTPException, failed)
    app.register_error_handler(SecurityError, foreign)
