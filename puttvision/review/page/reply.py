"""Answers that every handler gives, and what the handlers share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from jinja2 import Environment, PackageLoader, select_autoescape
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from puttvision.errors import ConflictError, PuttvisionError
from puttvision.review.page.body import LARGEST_NUMBER
from puttvision.review.page.desk import Desk
from puttvision.review.page.guard import Access
from puttvision.review.page.jobs import Jobs
from puttvision.review.page.receive import LARGEST_CLIP, Refused
from puttvision.review.page.shelf import Kept

_PAGES = Environment(
    loader=PackageLoader("puttvision.review.page"),
    autoescape=select_autoescape(default=True),
    trim_blocks=True,
    lstrip_blocks=True,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Office:
    """All that handlers need; in ``request.app.state.office``."""

    desk: Desk
    jobs: Jobs
    access: Access
    largest_clip: int = LARGEST_CLIP


def office(request: Request) -> Office:
    found = request.app.state.office
    assert isinstance(found, Office)
    return found


def page(request: Request, name: str, status: int = 200, **facts: Any) -> Response:
    """A page from a template."""
    text = _PAGES.get_template(name).render(secret=office(request).access.secret, **facts)
    return HTMLResponse(text, status)


def session_id(request: Request) -> int:
    """The session's number in the address; 404 where no database could hold it."""
    number = int(request.path_params["session"])
    if number > LARGEST_NUMBER:
        raise HTTPException(404)
    return number


def kept_clip(request: Request) -> Kept:
    """The clip whose id stands in the address."""
    kept = office(request).desk.shelf.get(request.path_params["clip"])
    if kept is None:
        raise HTTPException(404)
    return kept


def on_user_error(request: Request, err: Exception) -> Response:
    """One line for the coach; 404 where something is not there, 409 where somebody was faster."""
    text = str(err)
    status = 400
    if isinstance(err, ConflictError):
        status = 409
    elif isinstance(err, Refused):
        status = err.status
    elif text.startswith("no session "):
        status, text = 404, "there is no such session in the journal"
    if _wants_page(request):
        return page(request, "message.html", status, title="That did not work", text=text)
    return JSONResponse({"error": text}, status)


def on_http_error(request: Request, err: Exception) -> Response:
    assert isinstance(err, HTTPException)
    if err.status_code == 404 and _wants_page(request):
        return page(request, "message.html", 404, title="Nothing is here", text="There is no such page.")
    return JSONResponse({"error": str(err.detail)}, err.status_code, headers=err.headers)


def _wants_page(request: Request) -> bool:
    return request.method == "GET" and "text/html" in request.headers.get("accept", "")


HANDLERS = {PuttvisionError: on_user_error, HTTPException: on_http_error}
