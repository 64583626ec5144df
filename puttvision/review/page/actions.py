"""What changes something: corrections, notes, drills, and clips dropped in. JSON in, JSON out."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from puttvision.errors import ConflictError, PuttvisionError
from puttvision.journal.corrections import add_putt, correct, undo
from puttvision.putts import Figure, Putt
from puttvision.review.page.body import BadRequest, Body, clean
from puttvision.review.page.by_hand import checked
from puttvision.review.page.desk import rules_for
from puttvision.review.page.jobs import Job, State
from puttvision.review.page.pages import preview_folder, session_state
from puttvision.review.page.receive import Refused, check_announced, receive
from puttvision.review.page.reply import Office, kept_clip, office, session_id
from puttvision.review.page.shelf import CLIP_KINDS, PREVIEW_FILE, About, Kept

_CORRECTED = ("outcome", "gate_result", "is_putt", "start", "looked_at", "lipped")
"""What the page corrects; measured figures are not typed over here."""


async def change(request: Request) -> Response:
    """One correction of one putt, one putt added, or one correction undone; the session as it then stands.

    Where somebody else changed the same putt: 409, with what stands now; nothing is kept.
    """
    desk, session = office(request).desk, session_id(request)
    body = await Body.of(request)
    seen, why = body.whole("version"), body.text("why")

    def do() -> dict[str, Any]:
        kind = body.text("do")
        try:
            if kind == "correct":
                field = body.text("field")
                if field not in _CORRECTED:
                    raise BadRequest("field: " + ", ".join(_CORRECTED))
                stands = correct(
                    desk.store, session, body.whole("putt"), field, body.value("value"), desk.who, why, seen
                )
            elif kind == "add":
                putt = Putt(number=1, outcome="unseen", start_s=Figure(body.number("start_s")))
                stands = add_putt(desk.store, session, putt, desk.who, why, seen)
            elif kind == "undo":
                event = body.whole("event") if body.has("event") else None
                stands = undo(desk.store, session, desk.who, why, seen, event)
            else:
                raise BadRequest("do: correct, add or undo")
        except ConflictError as err:
            return {"error": str(err), "state": session_state(desk, session)}
        return {"state": session_state(desk, session) | {"changed": list(stands.changed)}}

    answer = await run_in_threadpool(do)
    return JSONResponse(answer, 409 if "error" in answer else 200)


async def note(request: Request) -> Response:
    """A note on a putt or on the session, or one taken away."""
    desk, session = office(request).desk, session_id(request)
    body = await Body.of(request)
    if body.has("remove"):
        await run_in_threadpool(desk.remove_note, session, body.whole("remove"))
    else:
        putt = body.whole("putt") if body.has("putt") else None
        await run_in_threadpool(desk.add_note, session, putt, body.text("text"))
    return JSONResponse({"state": await run_in_threadpool(session_state, desk, session)})


async def drill(request: Request) -> Response:
    """One more drill scored from the same putts."""
    desk, session = office(request).desk, session_id(request)
    body = await Body.of(request)
    name, options = body.text("drill"), _drill_options(body)
    new = await run_in_threadpool(desk.score, session, name, options)
    return JSONResponse({"new": new, "state": await run_in_threadpool(session_state, desk, session)})


async def make_preview(request: Request) -> Response:
    """Begin an H.264 copy of a clip; with ``poll``, say how far it is."""
    body, jobs = await Body.of(request), office(request).jobs
    footage = await run_in_threadpool(office(request).desk.footage, session_id(request))
    folder = preview_folder(footage)
    if footage.clip is None or (folder / PREVIEW_FILE).is_file():
        return JSONResponse({"state": "done"})
    key = f"preview {folder.name}"
    job = jobs.get(key) if body.raw("poll") else None
    return JSONResponse((job or jobs.start(key, "preview", footage.clip, folder)).to_json())


async def upload(request: Request) -> Response:
    """Take a clip in as the body of the request, and begin to measure it."""
    at, desk = office(request), office(request).desk
    name = clean(request.query_params.get("name", ""), "name", 200)
    suffix = Path(name).suffix.lower()
    if suffix not in CLIP_KINDS:
        raise Refused(415, "this is no clip from a phone: .mp4 or .mov was due")
    facts = Body(dict(request.query_params))
    about = _about(facts, name)
    marks = checked({"lens": facts.text("lens") or None})
    await run_in_threadpool(desk.check_lens, marks.get("lens", ""))
    await run_in_threadpool(desk.check_player, about.player, consent=about.consent)
    check_announced(request.headers.get("content-length"), desk.shelf.root, at.largest_clip)
    coming = await run_in_threadpool(desk.shelf.coming)
    await receive(request.stream(), coming, at.largest_clip)
    kept = await run_in_threadpool(desk.shelf.take_in, coming, suffix, replace(about, by_hand=marks))
    assert kept.clip is not None
    try:
        lens = await run_in_threadpool(desk.lens, kept.clip, marks)
    except PuttvisionError as misfit:  # the clip's page says so, and asks for another
        words = str(misfit)
        await run_in_threadpool(lambda: desk.shelf.note(kept, error=words))
    else:
        measure(at, kept, marks | lens)
    return JSONResponse({"clip": kept.id}, 201)


async def measure_again(request: Request) -> Response:
    """Measure a clip with the marks a person placed."""
    at, kept = office(request), kept_clip(request)
    body = await Body.of(request)
    marks = checked(body.raw("marks") or {})
    if kept.clip is None:
        raise HTTPException(404, "the clip is not at hand")
    await run_in_threadpool(at.desk.check_lens, marks.get("lens", ""))
    lens = await run_in_threadpool(at.desk.lens, kept.clip, marks)
    about = kept.about
    is_kept = await run_in_threadpool(at.desk.is_kept, kept)
    if is_kept and about.session is not None and not body.raw("drop_corrections"):
        stands = await run_in_threadpool(at.desk.stands, about.session)
        if any(event.in_force and event.undoes is None for event in stands.events):
            raise ConflictError(
                "the putts of this session were corrected: measuring again drops the corrections"
            )
    kept = await run_in_threadpool(lambda: at.desk.shelf.note(kept, by_hand=marks, error=""))
    return JSONResponse(measure(at, kept, marks | lens).to_json())


async def stop(request: Request) -> Response:
    """Stop measuring; the clip stays."""
    await office(request).jobs.stop(kept_clip(request).id)
    return JSONResponse({})


async def keep(request: Request) -> Response:
    """Say whose putts these are: the clip becomes a session."""
    at, kept = office(request), kept_clip(request)
    about = _about(await Body.of(request), kept.about.name)

    def do() -> Kept:
        at.desk.check_player(about.player, consent=about.consent)
        named = at.desk.shelf.note(
            kept,
            player=about.player,
            day=about.day,
            drill=about.drill,
            drill_options=about.drill_options,
            consent=about.consent,
        )
        return at.desk.keep(named)

    done = await run_in_threadpool(do)
    return JSONResponse({"session": done.about.session})


def measure(at: Office, kept: Kept, marks: dict[str, Any]) -> Job:
    """Put a clip in line for measuring; a session is made of it, or the reason is kept why not."""
    assert kept.clip is not None

    def when_done(job: Job, state: State) -> None:
        if state == "done":
            if kept.about.player:
                at.desk.keep(kept)
        elif state == "failed":
            at.desk.shelf.note(kept, error=job.error)

    return at.jobs.start(kept.id, "measure", kept.clip, kept.folder, marks, kept.title, when_done)


def _about(body: Body, name: str) -> About:
    day = body.text("day", longest=10)
    try:
        day = date.fromisoformat(day).isoformat() if day else datetime.now().date().isoformat()
    except ValueError as err:
        raise BadRequest("day: a day such as 2026-04-30 was due") from err
    drill_name = body.text("drill", longest=60)
    options = _drill_options(body)
    if drill_name:
        rules_for(drill_name, options)  # a wrong option is said now, not after the measuring
    return About(
        name=name,
        player=body.text("player", longest=100),
        day=day,
        drill=drill_name,
        drill_options=options if drill_name else {},
        consent=body.raw("consent") in (True, "true"),
    )


def _drill_options(body: Body) -> dict[str, Any]:
    options: dict[str, Any] = {}
    for key in ("target", "putts"):
        text = str(body.value(key) or "")
        if text:
            if not (text.isascii() and text.isdecimal()) or not 1 <= int(text[:6]) <= 10_000:
                raise BadRequest(f"{key}: a whole number from 1 to 10000 was due")
            options[key] = int(text[:6])
    if body.raw("strict") in (True, "true"):
        options["strict"] = True
    return options
