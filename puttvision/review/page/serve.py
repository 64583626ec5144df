"""Opening the page to this computer, or with a token to a network."""

from __future__ import annotations

import socket
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import uvicorn
from starlette.types import ASGIApp

from puttvision.errors import PuttvisionError
from puttvision.review.page.guard import LOOPBACK, Access, new_token


def access_for(host: str, names: Sequence[str] = ()) -> Access:
    """Loopback needs no token; any other address demands one."""
    more = frozenset(name.strip().lower() for name in names if name.strip())
    if host.lower() in LOOPBACK:
        return Access(hosts=LOOPBACK | more)
    own = socket.gethostname().lower()
    return Access(hosts=LOOPBACK | more | {host.lower(), own, f"{own}.local"}, token=new_token())


@contextmanager
def listen(host: str, port: int) -> Iterator[socket.socket]:
    """A listening socket; PuttvisionError where the address or port cannot be had."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        listening = socket.create_server((host, port), family=family, backlog=128)
    except OSError as err:
        raise PuttvisionError(
            f"the page cannot open on {host}, port {port}: {err.strerror or err}; name another with --port"
        ) from err
    with listening:
        yield listening


def serve(app: ASGIApp, listening: socket.socket) -> None:
    """Answer until Ctrl+C."""
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        timeout_graceful_shutdown=3,
    )
    uvicorn.Server(config).run(sockets=[listening])


def own_address() -> str:
    """The address under which others in the network see this computer; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()
