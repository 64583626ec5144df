"""The page without a network: Starlette's own client, a journal with one session, a folder with one clip."""

import asyncio
import shutil
from contextlib import contextmanager
from datetime import date
from types import SimpleNamespace

import httpx
import little_clip
import pytest

from puttvision.drill import catalogue
from puttvision.files import write_json
from puttvision.journal.again import score_drill
from puttvision.journal.people import add_player
from puttvision.journal.record import record
from puttvision.journal.store import opened
from puttvision.putts import ClipInfo, Figure, Putt, PuttSheet, to_json
from puttvision.review.page.app import build
from puttvision.review.page.desk import Desk
from puttvision.review.page.guard import Access
from puttvision.review.page.jobs import Job, Jobs
from puttvision.review.page.shelf import About, Shelf


@pytest.fixture(scope="session")
def tiny_clip(tmp_path_factory):
    """A clip of a few frames: enough to be one, too little to hold a putt."""
    lumas = [luma for _, luma in zip(range(6), little_clip.pictures(), strict=False)]
    return little_clip.pack(tmp_path_factory.mktemp("tiny") / "tiny.mp4", lumas)


class NoJobs(Jobs):
    """Orders are taken down and never worked on."""

    def start(self, key, task, clip, folder, by_hand=None, name="", when_done=None):  # noqa: ARG002
        job = self._jobs[key] = Job(key, {"task": task, "by_hand": by_hand}, when_done)
        return job


@pytest.fixture(scope="session")
def prepared(tmp_path_factory, tiny_clip):
    """A folder with a journal, in it session 1 of Ines, kept from a clip in ``clips``."""
    folder = tmp_path_factory.mktemp("prepared")
    sheet = PuttSheet(
        putts=(
            Putt(number=1, outcome="holed", gate_result="clear", start_s=Figure(0.05, 0.01)),
            Putt(number=2, outcome="missed", gate_result="touched", review=("a close call at the gate",)),
            Putt(number=3, outcome="unseen", gate_result="clear"),
        ),
        clip=ClipInfo(file="monday.mp4", duration_s=0.2, frames=6, width=1280, height=720),
    )
    shelf = Shelf(folder / "clips")
    coming = shelf.coming()
    shutil.copy(tiny_clip, coming)
    kept = shelf.take_in(coming, ".mp4", About(name="monday.mp4", player="Ines"))
    write_json(kept.folder / "putts.json", to_json(sheet))
    with opened(str(folder / "journal.db")) as journal:
        add_player(journal, "Ines", consent=True)
        session = record(journal, "Ines", sheet, day=date(2026, 4, 30), clip=kept.clip).session
        shelf.note(kept, session=session, journal=journal.where)
        score_drill(journal, session, catalogue.load("ball-gate-points"), catalogue.text("ball-gate-points"))
    return folder


@contextmanager
def copied(prepared, folder, access):
    """A site of its own for one test."""
    shutil.copytree(prepared, folder, dirs_exist_ok=True)
    shelf = Shelf(folder / "clips")
    (kept,) = shelf.all()
    with opened(str(folder / "journal.db")) as journal:
        kept = shelf.note(kept, journal=journal.where)
        desk = Desk(store=journal, shelf=shelf, who="Quill")
        app = build(desk, access, largest_clip=2_000_000, jobs=NoJobs())
        yield SimpleNamespace(
            app=app, desk=desk, shelf=shelf, clip=kept, session=1, access=access, folder=folder
        )


@pytest.fixture
def site(tmp_path, prepared):
    with copied(prepared, tmp_path, Access()) as site:
        yield site


class Client:
    """Synchronous requests straight into the application, as a page of ours would send them."""

    def __init__(self, site, base="http://127.0.0.1:8742", headers=None):
        self.site, self.base = site, base
        self.headers = {"x-puttvision": site.access.secret, "origin": base} if headers is None else headers

    def ask(self, method, path, headers=None, **more):
        async def go():
            transport = httpx.ASGITransport(app=self.site.app, raise_app_exceptions=False)
            async with httpx.AsyncClient(transport=transport, base_url=self.base) as client:
                return await client.request(method, path, headers={**self.headers, **(headers or {})}, **more)

        return asyncio.run(go())

    def get(self, path, **more):
        return self.ask("GET", path, **more)

    def post(self, path, **more):
        return self.ask("POST", path, **more)


@pytest.fixture
def client(site):
    return Client(site)
