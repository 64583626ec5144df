"""The review page on a port of its own, for tests: an empty journal and an empty folder of clips."""

import threading
import time
from contextlib import contextmanager
from dataclasses import dataclass

import uvicorn

from puttvision.journal.store import opened
from puttvision.review.page.app import build
from puttvision.review.page.desk import Desk
from puttvision.review.page.guard import Access
from puttvision.review.page.serve import listen
from puttvision.review.page.shelf import Shelf


@dataclass
class Running:
    """A page that answers."""

    url: str
    desk: Desk
    access: Access


@contextmanager
def running(folder, *, access=None):
    """Serve from a thread; stopped at the end."""
    access = access or Access()
    with listen("127.0.0.1", 0) as socket, opened(str(folder / "journal.db")) as store:
        desk = Desk(store=store, shelf=Shelf(folder / "clips"), who="Quill")
        config = uvicorn.Config(build(desk, access), log_level="error", lifespan="on")
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [socket]})
        thread.start()
        try:
            while not server.started:
                assert thread.is_alive(), "the page did not start"
                time.sleep(0.02)
            yield Running(url=f"http://127.0.0.1:{socket.getsockname()[1]}", desk=desk, access=access)
        finally:
            server.should_exit = True
            thread.join(10)


def until(page, expression, seconds=15):
    """Wait until a JavaScript expression holds; the page's policy forbids Playwright's own way."""
    end = time.monotonic() + seconds
    while not page.evaluate(expression):
        assert time.monotonic() < end, f"not within {seconds} s: {expression}"
        page.wait_for_timeout(40)
