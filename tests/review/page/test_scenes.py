"""A session kept by `measure --player` has its overlay on the page, as long as the same clip is there."""

import asyncio
from contextlib import contextmanager
from datetime import date

import httpx
import little_clip
import pytest
from typer.testing import CliRunner

from puttvision.cli.app import app
from puttvision.journal.store import opened
from puttvision.review.page.app import build
from puttvision.review.page.desk import Desk
from puttvision.review.page.guard import Access
from puttvision.review.page.shelf import Shelf
from puttvision.review.scenes import Scenes


@pytest.fixture(scope="module")
def measured(tmp_path_factory):
    folder = tmp_path_factory.mktemp("kept")
    little_clip.pack(folder / "practice.mp4", list(little_clip.pictures()))
    run(folder, "players", "add", "Ines", "--consent")
    run(folder, "measure", folder / "practice.mp4", "--player", "Ines", "--date", "2026-05-04", "--out",
        folder / "out")  # fmt: skip
    return folder


@pytest.fixture
def kept(measured, tmp_path):
    """A copy; the journal tells the clip by its bytes and finds it where it lay."""
    import shutil

    shutil.copytree(measured, tmp_path, dirs_exist_ok=True)
    return tmp_path


def run(folder, *words):
    store = {"PUTTVISION_STORE": str(folder / "journal.db")}
    done = CliRunner().invoke(app, [str(word) for word in words], env=store)
    assert done.exit_code == 0, (done.output, done.exception)
    return done.output


@contextmanager
def desk_of(folder):
    with opened(str(folder / "journal.db")) as store:
        yield Desk(store=store, shelf=Shelf(folder / "clips"), who="Quill")


def asked(desk, path):
    async def go():
        transport = httpx.ASGITransport(app=build(desk, Access()))
        async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:8742") as client:
            return await client.get(path)

    return asyncio.run(go())


def test_the_overlay_is_drawn_from_the_scene_beside_the_journal(kept):
    with desk_of(kept) as desk:
        drawing = asked(desk, "/sessions/1/drawing").json()
        assert len(drawing["overlay"]["putts"]) == 1
        assert drawing["overlay"]["hole"]
        assert asked(desk, "/sessions/1/film").status_code == 200


def test_another_clip_in_its_place_is_not_shown(measured):
    clip = measured / "practice.mp4"
    whole = clip.read_bytes()
    try:
        clip.write_bytes(whole + b"\0")
        with desk_of(measured) as desk:
            assert asked(desk, "/sessions/1/film").status_code == 404
    finally:
        clip.write_bytes(whole)


def test_scoring_the_putts_file_finds_clip_and_scene_beside_it(kept):
    run(kept, "players", "add", "Oluf", "--consent")
    run(kept, "score", kept / "out" / "putts.json", "--drill", "ball-gate-points", "--player", "Oluf",
        "--out", kept / "s")  # fmt: skip
    with desk_of(kept) as desk:
        facts = desk.facts(2)
        assert facts.clip_path == str(kept / "practice.mp4")
        assert desk.footage(2).scene() is not None


def test_what_nobody_is_left_of_is_removed(kept):
    with desk_of(kept) as desk:
        scenes = Scenes.beside(desk.store)
        assert scenes.folder == kept / "journal-scenes"
        assert len(list(scenes.folder.iterdir())) == 1
        assert desk.facts(1).day == date(2026, 5, 4)
    run(kept, "players", "forget", "Ines")
    assert not scenes.folder.exists()
