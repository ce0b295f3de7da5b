"""The pages that show: overview, pit, zone, trail, seasons, photos."""

from __future__ import annotations

import re
from datetime import datetime
from importlib.resources import files
from typing import Any
from urllib.parse import unquote

from flask import Flask, Response, abort, render_template, request, url_for
from markupsafe import Markup

from zoning.outputs.drawing.pit_signs import PIT_SIGNS
from zoning.outputs.fingerprint import short_id
from zoning.outputs.left_out import left_out_together
from zoning.records import Entry, Photo, Pit, Review, new_id, photo_file
from zoning.review.charts import pair_chart
from zoning.review.desk import Desk
from zoning.review.forms import next_name, pit_texts, read_pit_form
from zoning.review.ground import map_data
from zoning.review.plans import issues, plan_followed, recorded_ground
from zoning.review.reviews import review_id
from zoning.review.rules import rule
from zoning.review.season_pits import late_pits
from zoning.review.seasons import compare, seasons_held
from zoning.review.trail import steps
from zoning.review.views import (
    Filters,
    PitView,
    cone_beside,
    partner,
    pit_views,
    pits_of_zone,
    pits_withdrawn,
    zone_verdict,
)
from zoning.review.warnings import Warnings, check_warnings

_LIBRARY = {"leaflet.js": "text/javascript", "leaflet.css": "text/css"}


def register(app: Flask, desk: Desk) -> None:
    """Add the pages to `app`."""
    _register_overview(app, desk)
    _register_pit(app, desk)
    _register_zone(app, desk)
    _register_files(app, desk)


def _register_overview(app: Flask, desk: Desk) -> None:
    @app.get("/")
    def overview() -> str:
        desk.look_again()
        ground = desk.ground()
        views = pit_views(desk.record, ground, desk.season)
        chosen = Filters(**{k: request.args.get(k, "") for k in Filters.__dataclass_fields__})
        warned = check_warnings(desk.record, desk.season)
        shown_pits = [pit for pit in views if chosen.keeps(pit)]
        return render_template(
            "overview.html",
            ground=ground,
            pits=shown_pits,
            total=len(views),
            chosen=chosen,
            parts=ground.parts,
            signs_here=[name for name in PIT_SIGNS if name in {pit.sign for pit in shown_pits}],
            verdicts=sorted({pit.verdict for pit in views}),
            reviewed=sum(pit.reviewed for pit in views),
            warned=warned,
            plans=issues(desk.record, desk.season, ground.plan_id),
            left_out=left_out_together(desk.inputs.left_out),
            withdrawn=pits_withdrawn(desk.record, desk.season),
            earlier=[year for year in seasons_held(desk.record) if year < desk.season],
            data=map_data(ground) | {"pits": [_on_map(pit, warned) for pit in shown_pits]},
        )

    @app.get("/seasons")
    def seasons() -> str:
        held = [year for year in seasons_held(desk.record) if year] or [desk.season]
        asked = [request.args.get(name, type=int) for name in ("one", "other")]
        one = asked[0] if asked[0] in held else held[max(len(held) - 2, 0)]
        other = asked[1] if asked[1] in held else held[-1]
        one, other = sorted((one, other))
        stated = desk.inputs.settings.field.season is not None
        told = compare(desk.record, one, other, desk.ground(), year_before=not stated)
        within = f"{rule('season_place_m'):g}"
        return render_template(
            "seasons.html", held=held, one=one, other=other, told=told, within=within
        )

    @app.get("/season/<int:year>")
    def season(year: int) -> str:
        if year not in seasons_held(desk.record):
            abort(404, f"The record holds nothing of season {year}.")
        ground = recorded_ground(desk.record, year, desk.ground())
        views = pit_views(desk.record, ground, year)
        warned = check_warnings(desk.record, year)
        return render_template(
            "season.html",
            year=year,
            ground=ground,
            followed=plan_followed(desk.record, year),
            warned=warned,
            pits=views,
            plans=issues(desk.record, year, desk.ground().plan_id),
            signs_here=[name for name in PIT_SIGNS if name in {pit.sign for pit in views}],
            data=map_data(ground)
            | {"pits": [_on_map(pit, warned, "trail") for pit in views], "still": True},
        )


def _register_pit(app: Flask, desk: Desk) -> None:
    @app.get("/pit/<record_id>")
    def pit(record_id: str) -> str:
        ground = desk.ground()
        views = pit_views(desk.record, ground, desk.season)
        found = next((view for view in views if view.entry.record_id == record_id), None)
        if found is None:
            abort(404, _missing(desk, record_id))
        after_work = [view.body for view in views if view.body.phase == "after"]
        late = late_pits(desk.record, desk.season, after_work)
        beside = partner(found, [v for v in views if v is found or v.body not in late])
        before, after = _in_order(found, beside.other)
        cones = tuple(cone_beside(desk.record, desk.season, found, w) for w in ("before", "after"))
        planned = found.zone.depth_cm if found.zone else None
        chart = pair_chart(
            (before.body if before else None, after.body if after else None),
            (cones[0], cones[1]),
            planned,
            ground.limit_mpa,
        )
        return render_template(
            "pit.html",
            pit=found,
            ground=ground,
            pair=beside,
            warned=check_warnings(desk.record, desk.season),
            after=[after.body.pit] if after else [],
            sides=(("before", before), ("after", after)),
            cones=cones,
            planned=planned,
            chart=Markup(chart),  # noqa: S704 - made by our own code, every text escaped
            review=form_of_review(desk, "pit", record_id, found.review),
            near=_neighbours(views, found),
            told=request.args.get("told", ""),
            new_id=new_id(),
        )

    @app.get("/pit/<record_id>/trail")
    def trail(record_id: str) -> str:
        entries = _versions(desk, record_id)
        reviews = desk.record.trail(Review, review_id(desk.season, "pit", record_id))
        photos = [p for p in desk.record.everything(Photo) if p.body.pit_id == record_id]
        told = steps([*entries, *reviews, *photos])
        last = entries[-1].body
        own = last.season == desk.season and last.phase == "after"
        return render_template(
            "trail.html",
            pit=entries[-1],
            steps=told,
            warned=check_warnings(desk.record, last.season),
            after=[last.pit] if own else [],
        )

    @app.get("/pit/<record_id>/correct")
    def correct(record_id: str) -> str:
        last = _versions(desk, record_id)[-1]
        return pit_form(desk, pit_texts(last.body), {}, record_id, last.version)

    @app.get("/new")
    def new() -> str:
        beside = request.args.get("beside", "")[:80]
        told = f"pit {beside}" if beside else ""
        return pit_form(desk, _first_texts(desk), {}, new_id(), 0, beside=told)


def _versions(desk: Desk, record_id: str) -> list[Entry[Pit]]:
    """Return every version of a pit, the newest last; the answer 404 where there is none."""
    entries = desk.record.trail(Pit, record_id)
    if not entries:
        abort(404, "The record holds no such pit.")
    return entries


def _first_texts(desk: Desk) -> dict[str, str]:
    """Return what the form of a new pit starts with: today, a free name, what the link says."""
    phase = "before" if request.args.get("phase") == "before" else "after"
    names = [e.body.pit for e in desk.record.latest(Pit, season=desk.season, phase=phase)]
    texts = dict(read_pit_form({}, desk.season, ()).texts)
    today = datetime.now().astimezone().date().isoformat()
    name = next_name(names) if phase == "after" else ""
    texts |= {"phase": phase, "pit": name, "date": today, "place_from": ""}
    texts |= {key: request.args.get(key, "")[:40] for key in ("lon", "lat")}
    if (part := request.args.get("part", "")) in desk.ground().parts:
        texts["part"] = part
    return texts


def _register_zone(app: Flask, desk: Desk) -> None:
    @app.get("/zone/<int:number>")
    def zone(number: int) -> str:
        ground = desk.ground()
        found = ground.zone(number)
        if found is None:
            abort(404, "The plan has no such zone.")
        pits = [
            pit
            for pit in pit_views(desk.record, ground, desk.season)
            if pit.zone is not None and pit.zone.zone == number
        ]
        about = f"{short_id(ground.plan_id)}/{number}"
        held = desk.record.latest(Review, season=desk.season, about="zone", about_id=about)
        return render_template(
            "zone.html",
            zone=found,
            pits=pits,
            warned=check_warnings(desk.record, desk.season),
            after=pits_of_zone(desk.record, desk.season, ground, number),
            verdict=zone_verdict(desk.record, desk.season, ground, number),
            review=form_of_review(desk, "zone", about, held[-1] if held else None),
            told=request.args.get("told", ""),
        )


def _register_files(app: Flask, desk: Desk) -> None:
    @app.get("/photo/<digest>")
    def photo(digest: str) -> Response:
        """Send a photo the record names by its hash; no path is ever taken from a request."""
        held: list[Entry[Photo]] = []
        if re.fullmatch(r"[0-9a-f]{64}", digest):
            held = desk.record.latest(Photo, sha256=digest, withdrawn="")
        data = photo_file(desk.folder, held[0].body.path, digest) if held else None
        if data is None:
            abort(404, "The file of this photo is gone or was changed.")
        answer = Response(data, mimetype=held[0].body.media_type)
        answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
        return answer

    @app.get("/map/<name>")
    def library(name: str) -> Response:
        if name not in _LIBRARY:
            abort(404)
        folder = files("js_lib_leaflet").joinpath("static", "js_lib_leaflet")
        answer = Response(folder.joinpath(name).read_bytes(), mimetype=_LIBRARY[name])
        answer.headers["Cache-Control"] = "private, max-age=3600"
        return answer


def pit_form(
    desk: Desk,
    texts: dict[str, str],
    faults: dict[str, str],
    record_id: str,
    version: int,
    **more: Any,
) -> str:
    """Return the page of the pit form, filled with `texts`, its faults beside their fields."""
    ground = desk.ground()
    held: dict[str, Any] = {"row_id": new_id(), "by_whom": by_cookie()}
    held |= dict.fromkeys(("why", "head", "beside"), "")
    return render_template(
        "form.html",
        texts=texts,
        faults=faults,
        record_id=record_id,
        version=version,
        parts=ground.parts,
        data=map_data(ground) | {"pits": []},
        **(held | more),
    )


def by_cookie() -> str:
    """Return who saved last from this browser."""
    return unquote(request.cookies.get("zoning_by", ""))[:80]


def form_of_review(
    desk: Desk, about: str, about_id: str, held: Entry[Review] | None
) -> dict[str, Any]:
    """Return what the review form on a page starts with."""
    return {
        "about": about,
        "about_id": about_id,
        "record_id": review_id(desk.season, about, about_id),
        "row_id": new_id(),
        "version": held.version if held else 0,
        "reviewed": held.body.reviewed if held else "no",
        "note": held.body.note if held else "",
        "by_whom": by_cookie(),
        "entry": held,
    }


def stop_stands(desk: Desk, about: str, about_id: str) -> bool:
    """Whether a Stop line of the newest check names this pit, or a pit of this zone."""
    ground = desk.ground()
    stopped = check_warnings(desk.record, desk.season).stopped

    def meant(pit: PitView) -> bool:
        if about == "pit":
            return pit.entry.record_id == about_id
        return pit.zone is not None and f"{short_id(ground.plan_id)}/{pit.zone.zone}" == about_id

    return any(
        pit.body.phase == "after" and pit.body.pit in stopped and meant(pit)
        for pit in pit_views(desk.record, ground, desk.season)
    )


def _in_order(pit: PitView, other: PitView | None) -> tuple[PitView | None, PitView | None]:
    return (pit, other) if pit.body.phase == "before" else (other, pit)


def _neighbours(views: list[PitView], found: PitView) -> tuple[PitView | None, PitView | None]:
    """Return the pits before and behind this one in the list."""
    i = views.index(found)
    return (views[i - 1] if i else None, views[i + 1] if i + 1 < len(views) else None)


def _on_map(pit: PitView, warned: Warnings, page: str = "pit") -> dict[str, Any]:
    return {
        "href": url_for(page, record_id=pit.entry.record_id),
        "pit": pit.body.pit,
        "phase": pit.body.phase,
        "at": list(pit.place),
        "verdict": pit.verdict,
        "sign": pit.sign,
        "reviewed": pit.reviewed,
        "stop": pit.body.phase == "after" and pit.body.pit in warned.stopped,
    }


def _missing(desk: Desk, record_id: str) -> str:
    trail = desk.record.trail(Pit, record_id)
    if trail and trail[-1].body.withdrawn:
        return f"Pit {trail[-1].body.pit} was withdrawn: see its trail of edits."
    if trail:
        return f"Pit {trail[-1].body.pit} is of season {trail[-1].body.season}."
    return "The record holds no such pit."
