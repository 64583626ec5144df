"""The application: routes, wired to the desk behind the guard."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from puttvision.review.page import actions, pages
from puttvision.review.page.desk import Desk
from puttvision.review.page.guard import UPLOAD_PATH, Access, Guard
from puttvision.review.page.jobs import Jobs
from puttvision.review.page.receive import LARGEST_CLIP
from puttvision.review.page.reply import HANDLERS, Office

_STATIC = Path(__file__).resolve().parent / "static"


def build(
    desk: Desk, access: Access, *, largest_clip: int = LARGEST_CLIP, jobs: Jobs | None = None
) -> ASGIApp:
    """The whole page as an ASGI application."""
    jobs = jobs or Jobs()

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        desk.shelf.sweep()
        yield
        await jobs.stop_all()

    app = Starlette(routes=_routes(), exception_handlers=HANDLERS, lifespan=life)
    app.state.office = Office(desk=desk, jobs=jobs, access=access, largest_clip=largest_clip)
    return Guard(app, access)


def _routes() -> list[Route | Mount]:
    session, clip = "/sessions/{session:int}", "/clips/{clip}"
    return [
        Route("/", pages.home),
        Route(session, pages.session),
        Route(f"{session}/state", pages.state),
        Route(f"{session}/practise", pages.practise),
        Route(f"{session}/drawing", pages.drawing),
        Route(f"{session}/film", pages.film),
        Route(f"{session}/preview", pages.preview),
        Route(f"{session}/preview", actions.make_preview, methods=["POST"]),
        Route(f"{session}/change", actions.change, methods=["POST"]),
        Route(f"{session}/note", actions.note, methods=["POST"]),
        Route(f"{session}/drill", actions.drill, methods=["POST"]),
        Route(UPLOAD_PATH, actions.upload, methods=["POST"]),
        Route(clip, pages.clip),
        Route(f"{clip}/state", pages.clip_state),
        Route(f"{clip}/still.jpg", pages.still),
        Route(f"{clip}/measure", actions.measure_again, methods=["POST"]),
        Route(f"{clip}/stop", actions.stop, methods=["POST"]),
        Route(f"{clip}/keep", actions.keep, methods=["POST"]),
        Route("/looks.css", pages.tokens),
        Route("/favicon.ico", _icon),
        Mount("/static", StaticFiles(directory=_STATIC)),
    ]


def _icon(request: Request) -> Response:  # noqa: ARG001
    return Response(status_code=204)
