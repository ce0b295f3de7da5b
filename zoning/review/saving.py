"""The forms: each is saved once, and nothing that was typed is lost when saving fails."""

from __future__ import annotations

import re
import uuid
from dataclasses import replace
from urllib.parse import quote

from flask import Flask, g, make_response, redirect, render_template, request, url_for
from werkzeug.datastructures import FileStorage
from werkzeug.wrappers import Response

from zoning.errors import ZoningError
from zoning.records import (
    Conflict,
    Draft,
    Entry,
    NameTaken,
    Photo,
    Pit,
    Review,
    keep_photo,
    new_id,
)
from zoning.review.desk import Desk
from zoning.review.forms import Filled, label, next_name, on_the_field, pit_texts, read_pit_form
from zoning.review.pages import pit_form
from zoning.review.reviews import review_id

STALE = "The program was started anew since this form was opened. Look it over and save again."
_SPACE = uuid.UUID("0b9a4a53-57c8-5a25-9b55-8a4d5a0c9a3e")


def register(app: Flask, desk: Desk) -> None:
    """Add the forms to `app`."""

    @app.post("/save/pit")
    def save_pit() -> Response:
        typed = read_pit_form(request.form, desk.season, desk.ground().parts)
        filled = on_the_field(typed, desk.inputs)
        if not g.fresh:
            return _again(desk, filled, 403, head=STALE)
        if filled.pit is None:
            return _again(desk, filled, 400, head="Nothing is saved yet: mend what is marked.")
        return _saved(desk, filled, filled.pit)

    @app.post("/save/review")
    def save_review() -> Response:
        return _save_review(desk)

    @app.post("/save/photo")
    def save_photo() -> Response:
        pit_id = _id("record_id")
        told = STALE if not g.fresh else _photo_words(desk, pit_id, _id("row_id"))
        return redirect(url_for("pit", record_id=pit_id, told=told), 303)

    @app.post("/save/photo/withdrawn")
    def withdraw_photo() -> Response:
        pit_id = _id("pit_id")
        told = STALE if not g.fresh else _withdrawn(desk, _id("record_id"))
        return redirect(url_for("pit", record_id=pit_id, told=told), 303)


def _withdrawn(desk: Desk, photo_id: str) -> str:
    """Withdraw a photo; its file and its entry stay."""
    trail = desk.record.trail(Photo, photo_id)
    if not trail or trail[-1].body.withdrawn:
        return "There is no such photo, or it is withdrawn already."
    draft = Draft(
        body=replace(trail[-1].body, withdrawn="yes"),
        row_id=_id("row_id"),
        record_id=photo_id,
        based_on=trail[-1].version,
        origin="page",
        by_whom=_by(),
    )
    desk.record.save(draft)
    return "The photo is withdrawn; it stays in the trail and in the folder."


def _saved(desk: Desk, filled: Filled, pit: Pit) -> Response:
    version = request.form.get("version", default=0, type=int)
    draft = Draft(
        body=pit,
        row_id=_id("row_id"),
        record_id=_id("record_id"),
        based_on=version,
        origin="page",
        by_whom=_by(),
        why=request.form.get("why", "").strip()[:400],
    )
    try:
        entry = desk.record.save(draft)
    except Conflict as conflict:
        return _conflict(desk, conflict.current, draft)
    except NameTaken:
        names = [e.body.pit for e in desk.record.latest(Pit, season=desk.season, phase=pit.phase)]
        what = f"There is a pit {pit.pit} of this phase already. Free: {next_name(names)}."
        again = Filled(filled.texts, None, {"pit": what})
        return _again(desk, again, 409, head="Nothing is saved yet: mend what is marked.")
    except ZoningError as fault:
        return _again(desk, filled, 503, head=f"Nothing is saved. {fault}")
    told = "Withdrawn." if entry.body.withdrawn else f"Pit {entry.body.pit} is saved."
    if _upload() is not None:
        told = f"{told} {_photo_words(desk, entry.record_id, entry.row_id)}"
    where = "trail" if entry.body.withdrawn else "pit"
    return _remembering(redirect(url_for(where, record_id=entry.record_id, told=told), 303))


def _again(desk: Desk, filled: Filled, status: int, *, head: str) -> Response:
    """Return the form again with everything that was typed."""
    if _upload() is not None:
        head += " Choose the photo again: a browser does not keep it."
    page = pit_form(
        desk,
        dict(filled.texts),
        dict(filled.faults),
        _id("record_id"),
        request.form.get("version", default=0, type=int),
        row_id=_id("row_id"),
        why=request.form.get("why", "")[:400],
        by_whom=_by(),
        head=head,
    )
    return make_response(page, status)


def _conflict(desk: Desk, current: Entry[Pit], draft: Draft[Pit]) -> Response:
    """Return the page that shows both versions and lets the user choose."""
    newest = desk.record.trail(Pit, current.record_id)[-1]
    mine, theirs = pit_texts(draft.body), pit_texts(newest.body)
    rows = [(label(k), theirs[k], mine[k], theirs[k] != mine[k]) for k in mine]
    fields = [(k, v) for k, v in mine.items()]
    page = render_template(
        "conflict.html",
        rows=rows,
        current=newest,
        fields=fields,
        record_id=newest.record_id,
        row_id=new_id(),
        by_whom=draft.by_whom,
        why=draft.why,
        action=url_for("save_pit"),
        back=url_for("pit", record_id=newest.record_id),
    )
    return make_response(page, 409)


def _save_review(desk: Desk) -> Response:
    about = "zone" if request.form.get("about") == "zone" else "pit"
    about_id = request.form.get("about_id", "")[:80]
    body = Review(
        season=desk.season,
        about=about,  # type: ignore[arg-type]
        about_id=about_id,
        reviewed="yes" if request.form.get("reviewed") == "yes" else "no",
        note=request.form.get("note", "").strip(),
    )
    draft = Draft(
        body=body,
        row_id=_id("row_id"),
        record_id=review_id(desk.season, about, about_id),
        based_on=request.form.get("version", default=0, type=int),
        origin="page",
        by_whom=_by(),
    )
    back = _review_page(about, about_id)
    if not g.fresh:
        return _review_again(draft, None, back, STALE, 403)
    try:
        desk.record.save(draft)
    except Conflict as conflict:
        newest = desk.record.trail(Review, conflict.current.record_id)[-1]
        head = "Somebody saved this review while you wrote: both are below, nothing is lost."
        return _review_again(draft, newest, back, head, 409)
    except ZoningError as fault:
        return _review_again(draft, None, back, f"Nothing is saved. {fault}", 503)
    return _remembering(redirect(f"{back}?told=The+review+is+saved.", 303))


def _review_page(about: str, about_id: str) -> str:
    number = about_id.rpartition("/")[2]
    if about == "zone" and number.isdigit():
        return url_for("zone", number=int(number))
    return url_for("pit", record_id=about_id) if re.fullmatch("[0-9a-f]{32}", about_id) else "/"


def _review_again(
    draft: Draft[Review], current: Entry[Review] | None, back: str, head: str, status: int
) -> Response:
    page = render_template(
        "review_again.html",
        head=head,
        draft=draft,
        current=current,
        version=current.version if current else draft.based_on,
        row_id=new_id() if current else draft.row_id,
        back=back,
    )
    return make_response(page, status)


def _photo_words(desk: Desk, pit_id: str, row_id: str) -> str:
    """Keep the photo that was sent and return what to say of it."""
    upload = _upload()
    if upload is None:
        return "No photo was chosen."
    keep_location = request.form.get("keep_location") == "yes"
    try:
        if not desk.record.trail(Pit, pit_id):
            return "The photo is not kept: there is no such pit."
        kept = keep_photo(
            desk.folder, upload.filename or "photo", upload.read(), keep_location=keep_location
        )
        body = Photo(
            season=desk.season,
            pit_id=pit_id,
            path=kept.path,
            sha256=kept.sha256,
            media_type="image/jpeg",
            width=kept.width,
            height=kept.height,
            bytes=kept.bytes,
            location_kept="yes" if kept.location_kept else "no",
            caption=request.form.get("caption", "").strip()[:400],
        )
        row = uuid.uuid5(_SPACE, f"{row_id}|{pit_id}|{kept.sha256}").hex
        draft = Draft(
            body=body, row_id=row, record_id=row, based_on=0, origin="page", by_whom=_by()
        )
        desk.record.save(draft)
    except ZoningError as fault:
        return f"The photo is not kept. {fault}"
    place = "its location kept" if kept.location_kept else "without its location"
    return f"The photo is kept, {place}."


def _upload() -> FileStorage | None:
    upload = request.files.get("photo_file")
    return upload if upload is not None and upload.filename else None


def _id(name: str) -> str:
    """Return an identifier of the form; a malformed one gives a new record, never another's."""
    given = request.form.get(name, "")
    return given if re.fullmatch(r"[0-9a-f]{32}", given) else new_id()


def _by() -> str:
    given = request.form.get("by_whom", "").strip()[:80]
    return "".join(letter for letter in given if letter.isprintable())


def _remembering(answer: Response) -> Response:
    """Keep who saves in the browser, so that it need not be typed again."""
    answer.set_cookie(
        "zoning_by", quote(_by()), httponly=True, samesite="Strict",
        max_age=31_536_000,
    )  # fmt: skip
    return answer
