"""What stands between the network and the page: who may ask, from where, and what a browser may do with it.

An ASGI layer round the whole application. The page is meant for the machine it runs on; opened to a
network it demands a token. Other sites that the coach has open in the same browser can neither read
it (Host and Fetch-Metadata checks against rebinding and embedding) nor write to it (Origin and a secret
that only our own pages carry). See OWASP's Cross-Site Request Forgery Prevention Cheat Sheet (from memory).
"""

from __future__ import annotations

import hmac
import ipaddress
import secrets
from dataclasses import dataclass, field
from urllib.parse import parse_qs, urlencode

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import cookie_parser
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

SECRET_HEADER = "x-puttvision"
"""The header in which our own pages send the secret back with every change."""
LOOPBACK = frozenset({"localhost", "127.0.0.1", "::1"})
LARGEST_BODY = 64 * 1024
"""Bytes of a request that is no upload."""
UPLOAD_PATH = "/clips"
_SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "media-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
_HEADERS = {
    "content-security-policy": _POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """Under which names the page answers, and what it asks of a visitor."""

    hosts: frozenset[str] = LOOPBACK
    """Names without port, in small letters; any numeric address besides, where a token is demanded."""
    token: str | None = None
    """Demanded from every visitor; None: the page is on loopback only."""
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(24))

    def answers_to(self, host: str) -> bool:
        """Whether a Host header names this page.

        Where a token is demanded any numeric address will do: rebinding needs a name.
        """
        name = host_name(host)
        if name is None:
            return False
        return name in self.hosts or (self.token is not None and _is_address(name))


def host_name(host: str) -> str | None:
    """``"[::1]:8000"`` to ``"::1"``; None where it is no host with an optional port."""
    host = host.strip().lower()
    if host.startswith("["):
        name, closed, port = host[1:].partition("]")
        if not closed or (port and not (port[:1] == ":" and port[1:].isdecimal())):
            return None
        return name or None
    name, colon, port = host.partition(":")
    if not name or (colon and not port.isdecimal()):
        return None
    return name.rstrip(".") or None


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def new_token() -> str:
    """A token that cannot be guessed, short enough to type."""
    return secrets.token_hex(12)


class Guard:
    """The layer itself; see the module."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self.app, self.access = app, access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        headers = Headers(scope=scope)
        answer = self._refusal(scope, headers) or self._at_the_door(scope, headers)
        sending = _with_headers(send)
        if answer is not None:
            await answer(scope, receive, sending)
            return
        if scope["path"] == UPLOAD_PATH:
            await self.app(scope, receive, sending)
            return
        await self.app(scope, _limited(receive), sending)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        """An answer to a request that must not be let in, else None."""
        hosts = headers.getlist("host")
        if len(hosts) != 1 or not self.access.answers_to(hosts[0]):
            return _plain(421, "this page does not answer to that name: open it by the address it printed")
        site = headers.get("sec-fetch-site", "same-origin")
        foreign = site not in ("same-origin", "none")
        if scope["method"] in _SAFE:
            navigates = headers.get("sec-fetch-mode") == "navigate" and headers.get("sec-fetch-dest") in (
                None,
                "document",
            )
            return _plain(403, "another site asked for this") if foreign and not navigates else None
        origin = headers.get("origin")
        ours = f"{scope['scheme']}://{hosts[0]}".lower()
        if foreign or (origin is not None and origin.lower() != ours):
            return _plain(403, "another site asked for this: nothing was changed")
        if not same(headers.get(SECRET_HEADER, ""), self.access.secret):
            return _plain(403, "the page is from before a restart: load it again; nothing was changed")
        length = headers.get("content-length", "0")
        if not length.isdecimal():
            return _plain(400, "Content-Length: a number of bytes was due")
        if scope["path"] != UPLOAD_PATH and int(length[:20]) > LARGEST_BODY:
            return _plain(413, "the request is too large")
        return None

    def _at_the_door(self, scope: Scope, headers: Headers) -> Response | None:
        """Where a token is demanded: let in who has it, take it from the address, else ask for it."""
        token = self.access.token
        if token is None or scope["path"] in _AT_THE_DOOR:
            return None
        port = (scope.get("server") or ("", 0))[1]
        cookie = f"puttvision_{port}"
        if same(cookie_parser(headers.get("cookie", "")).get(cookie, ""), token):
            return None
        asked = parse_qs(scope.get("query_string", b"").decode("latin-1"), keep_blank_values=True)
        given = asked.pop("token", [""])[0]
        if scope["method"] == "GET" and same(given, token):
            rest = urlencode(asked, doseq=True)
            # a path that begins with // would lead to another machine
            place = "/" + scope["path"].lstrip("/\\") + (f"?{rest}" if rest else "")
            answer = RedirectResponse(place, 303)
            answer.set_cookie(cookie, token, httponly=True, samesite="strict", max_age=30 * 86400)
            return answer
        return HTMLResponse(_DOOR.format(wrong=_WRONG if given else ""), 401)


def same(given: str, due: str) -> bool:
    """Compare without telling by the time taken how much was right."""
    return hmac.compare_digest(given.encode(), due.encode())


def _plain(status: int, text: str) -> Response:
    return PlainTextResponse(f"{text}\n", status)


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers[name] = value
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return sending


def _limited(receive: Receive) -> Receive:
    """Count what comes in: a length may be missing or may lie."""
    got = 0

    async def receiving() -> Message:
        nonlocal got
        message = await receive()
        got += len(message.get("body", b""))
        if got > LARGEST_BODY:
            raise HTTPException(413, "the request is too large")
        return message

    return receiving


_AT_THE_DOOR = frozenset({"/looks.css", "/static/page.css", "/favicon.ico"})
"""What a visitor without the token may read: how the page looks, which is in every checkout."""
_DOOR = """<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark"><title>Token · puttvision</title>
<link rel="stylesheet" href="/looks.css"><link rel="stylesheet" href="/static/page.css"></head>
<body><header class="top"><span class="home">puttvision</span></header>
<main><h1>This page asks for a token</h1>
<form class="card">{wrong}<div class="line"><label>Token, as the computer that runs the page shows it
<input name="token" autocomplete="off" autocapitalize="none" required autofocus></label>
<button class="main">Open</button></div></form></main></body></html>
"""
_WRONG = '<p class="fault" role="alert">That is not the token.</p>'
