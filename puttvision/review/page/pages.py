"""What is looked at: the list of sessions, a session, a clip, and their film."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response

from puttvision import looks
from puttvision.errors import PuttvisionError
from puttvision.review.next_words import next_lines
from puttvision.review.page.desk import GUEST, Desk, Footage, clip_facts, drills, still_jpeg
from puttvision.review.page.overlay import overlay
from puttvision.review.page.reply import kept_clip, office, page, session_id
from puttvision.review.page.shelf import CLIP_KINDS, PREVIEW_FILE, Kept
from puttvision.review.page.view import needs_a_look, session_view

_LOOKED_THROUGH = 30
"""Of so many sessions the list says how many putts need a look."""


def home(request: Request) -> Response:
    """All sessions, and clips that are none yet."""
    desk = office(request).desk
    sessions = []
    for place, facts in enumerate(desk.sessions()):
        waiting = _n_to_look_at(desk, facts.id) if place < _LOOKED_THROUGH and facts.filmed else 0
        sessions.append({"facts": facts, "waiting": waiting})
    clips = [
        {"kept": kept, "job": office(request).jobs.get(kept.id)}
        for kept in desk.shelf.all()
        if not desk.is_kept(kept)
    ]
    return page(
        request,
        "home.html",
        sessions=sessions,
        clips=clips,
        players=[name for name in desk.players() if name != GUEST],
        ask_consent=[name for name in desk.players() if desk.needs_consent(name)],
        drills=drills(),
        lenses=desk.lenses.names(),
        largest=office(request).largest_clip,
    )


def _n_to_look_at(desk: Desk, session: int) -> int:
    stands = desk.stands(session)
    return sum(bool(needs_a_look(putt, stands.looked_at)) for putt in stands.putts)


def session(request: Request) -> Response:
    """One session: film, putts, score."""
    desk, number = office(request).desk, session_id(request)
    footage = desk.footage(number)
    return page(
        request,
        "session.html",
        facts=desk.facts(number),
        has_film=footage.clip is not None,
        clip_id=footage.kept.id if footage.kept else "",
        drills=drills(),
        who=desk.who,
    )


def state(request: Request) -> Response:
    """All of a session that changes, as JSON."""
    return JSONResponse(session_state(office(request).desk, session_id(request)))


def session_state(desk: Desk, number: int) -> dict[str, Any]:
    """A session as it stands, with its notes."""
    return session_view(desk.stands(number)) | {"notes": desk.notes(number)}


def practise(request: Request) -> Response:
    """What to practise next, of all putts on record of the session's player."""
    desk = office(request).desk
    player = desk.facts(session_id(request)).player
    if player == GUEST:
        told = (
            "These putts have no name. Drop the clip in again and choose whose they are, and it is told here."
        )
        return JSONResponse({"lines": [told]})
    return JSONResponse({"lines": list(next_lines(desk.store, player))})


def drawing(request: Request) -> Response:
    """What the canvas draws, and what the player must know of the film."""
    footage = office(request).desk.footage(session_id(request))
    if footage.clip is None:
        raise HTTPException(404, "the clip is not at hand")
    scene = footage.scene()
    rate = footage.kept.about.by_hand.get("capture_rate_hz") if footage.kept else None
    rate = scene.capture_rate_hz if scene is not None and rate is None else rate
    drawn = None if scene is None else overlay(scene)
    return JSONResponse({"clip": clip_facts(footage.clip, rate), "overlay": drawn})


def film(request: Request) -> Response:
    """The clip itself, in ranges."""
    footage = office(request).desk.footage(session_id(request))
    if footage.clip is None:
        raise HTTPException(404, "the clip is not at hand")
    kind = CLIP_KINDS[footage.clip.suffix.lower()]
    # browsers play a .mov of H.264, but not under QuickTime's own name
    kind = "video/mp4" if kind == "video/quicktime" else kind
    return FileResponse(footage.clip, media_type=kind, headers={"cache-control": "private, no-cache"})


def preview(request: Request) -> Response:
    """The copy that every browser plays, where it was made."""
    path = preview_folder(office(request).desk.footage(session_id(request))) / PREVIEW_FILE
    if not path.is_file():
        raise HTTPException(404, "no preview was made yet")
    return FileResponse(path, media_type="video/mp4", headers={"cache-control": "private, no-cache"})


def preview_folder(footage: Footage) -> Path:
    """Where a preview lies; a clip outside the page's own folder has none."""
    if footage.clip is None or footage.kept is None:
        raise PuttvisionError("a preview is made of clips that were dropped on this page: drop it in again")
    return footage.kept.folder


def clip(request: Request) -> Response:
    """A clip on its way to a session: measuring, what went wrong, marks by hand, whose putts."""
    kept, desk = kept_clip(request), office(request).desk
    return page(
        request,
        "clip.html",
        kept=kept,
        session=kept.about.session if desk.is_kept(kept) else None,
        has_clip=kept.clip is not None,
        n_putts=_n_putts(kept),
        lenses=desk.lenses.names(),
        lens=kept.about.by_hand.get("lens", ""),
        job=office(request).jobs.get(kept.id),
        players=[name for name in desk.players() if name != GUEST],
        ask_consent=[name for name in desk.players() if desk.needs_consent(name)],
        drills=drills(),
    )


def _n_putts(kept: Kept) -> int:
    try:
        return len(kept.sheet().putts)
    except PuttvisionError:
        return 0


def clip_state(request: Request) -> Response:
    """How far the measuring is."""
    kept = kept_clip(request)
    job = office(request).jobs.get(kept.id)
    return JSONResponse(
        {
            "job": None if job is None else job.to_json(),
            "measured": kept.is_measured,
            "session": kept.about.session if office(request).desk.is_kept(kept) else None,
            "error": kept.about.error,
        }
    )


def still(request: Request) -> Response:
    """A picture of the clip, as it is measured: upright, in full size."""
    path = kept_clip(request).clip
    if path is None:
        raise HTTPException(404, "the clip is not at hand")
    return Response(still_jpeg(path), media_type="image/jpeg")


def tokens(request: Request) -> Response:  # noqa: ARG001
    """The design tokens, as a style sheet of its own: the policy allows none in the page."""
    return Response(looks.css(), media_type="text/css", headers={"cache-control": "no-cache"})
