"""Folders of clips: ids, what `measure` left, what is forgotten, and what an upload leaves behind."""

import shutil

import cv2
import little_clip
import numpy as np
from little_sheet import square_px

from puttvision.review.page.desk import still_jpeg
from puttvision.review.page.shelf import ABOUT_FILE, PREVIEW_FILE, Shelf, forget


def test_an_id_is_compared_and_never_a_path(site):
    assert site.shelf.get(site.clip.id).folder == site.clip.folder
    for wrong in ("", "..", site.clip.folder.name, f"../{site.clip.folder.name}", "*", "\0"):
        assert site.shelf.get(wrong) is None


def test_a_measured_folder_is_a_clip_and_becomes_a_session(site, client, tiny_clip):
    # as `puttvision measure --out` leaves it, the clip beside the folder
    folder = site.shelf.root / "tuesday"
    folder.mkdir()
    shutil.copy(site.clip.folder / "putts.json", folder / "putts.json")
    text = (folder / "putts.json").read_text(encoding="utf-8").replace("monday", "tuesday")
    (folder / "putts.json").write_text(text.replace('"frames": 6', '"frames": 7'), encoding="utf-8")
    shutil.copy(tiny_clip, site.shelf.root / "tuesday.mp4")
    kept = next(one for one in site.shelf.all() if one.folder == folder)
    assert kept.clip == site.shelf.root / "tuesday.mp4"
    page = client.get(f"/clips/{kept.id}", headers={"accept": "text/html"}).text
    assert "3 putts measured" in page
    refused = client.post(f"/clips/{kept.id}/keep", json={"player": "guest"})
    assert refused.status_code == 400
    assert "agreed" in refused.json()["error"]
    answer = client.post(f"/clips/{kept.id}/keep", json={"player": "guest", "consent": True})
    assert client.get(f"/sessions/{answer.json()['session']}").status_code == 200


def test_a_file_name_in_putts_json_leads_nowhere_else(site):
    path = site.clip.folder / "putts.json"
    (site.clip.folder / "clip.mp4").unlink()
    secret = site.folder / "secret.mp4"
    secret.write_bytes(b"x")
    text = path.read_text(encoding="utf-8")
    for name in ("../../secret.mp4", str(secret)):
        path.write_text(text.replace("monday.mp4", name), encoding="utf-8")
        (kept,) = site.shelf.all()
        assert kept.clip is None


def test_a_broken_note_of_the_page_is_no_stop(site, client):
    (site.clip.folder / ABOUT_FILE).write_text("{", encoding="utf-8")
    assert client.get("/").status_code == 200
    assert client.get("/sessions/1", headers={"accept": "text/html"}).status_code == 200


def test_what_an_upload_left_behind_is_swept_up(site):
    left = site.shelf.coming()
    left.write_bytes(b"half a clip")
    Shelf(site.shelf.root).sweep()
    assert not left.exists()
    assert site.clip.folder.exists()


def test_a_forgotten_player_leaves_no_name_and_no_copy(site):
    clip = site.clip.clip
    (site.clip.folder / PREVIEW_FILE).write_bytes(b"film")
    forget(clip)
    assert sorted(path.name for path in site.clip.folder.iterdir()) == ["clip.mp4", "putts.json"]


def test_with_the_clip_everything_goes(site):
    clip = site.clip.clip
    clip.unlink()
    forget(clip)
    assert not site.clip.folder.exists()


def test_a_session_of_another_journal_is_not_mistaken_for_this_one(site):
    site.shelf.note(site.clip, journal="elsewhere.db")
    assert site.desk.footage(1).kept is None


def test_the_picture_for_marks_is_the_view_that_is_measured_in(tmp_path):
    # bumped at 45 %: the first stand is kept, though the picture in the middle shows the second one
    lumas = list(little_clip.pictures())
    clip = little_clip.pack(tmp_path / "c.mp4", little_clip.bumped(lumas, 0.45 * little_clip.LENGTH_S))
    data = np.frombuffer(still_jpeg(clip), np.uint8)
    picture = cv2.cvtColor(cv2.imdecode(data, cv2.IMREAD_COLOR), cv2.COLOR_BGR2GRAY)
    x, y = np.round(square_px(little_clip.VIEW, *little_clip.SHEETS[3]).mean(axis=0)).astype(int)
    around = np.s_[y - 25 : y + 26, x - 25 : x + 26]
    first = lumas[0][around].astype(float)
    second = next(little_clip.bumped(lumas[:1], 0.0))[around].astype(float)
    shown = picture[around].astype(float)
    alike = [np.corrcoef(shown.ravel(), other.ravel())[0, 1] for other in (first, second)]
    assert alike[0] > 0.98 > alike[1]
