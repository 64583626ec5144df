"""Clips on the page are measured with a lens profile: the one chosen, or the one their facts point to."""

import json
from dataclasses import replace

import pytest
from page_client import Client, NoJobs, copied
from test_requests import upload

from puttvision.errors import PuttvisionError
from puttvision.green.pose import LensPrior
from puttvision.putt.assemble import Readout
from puttvision.putt.known_lens import KnownLens
from puttvision.review.page import lenses
from puttvision.review.page.app import build
from puttvision.review.page.by_hand import options
from puttvision.review.page.guard import Access

LENS = KnownLens(
    name="q7",
    prior=LensPrior(
        f_over_long_side=0.71, u_ln_f=0.001, centre_share=(0.001, -0.002), more=(1e-3, 0, 0, 0, 0, 0)
    ),
    readout=Readout(seconds=0.009, u_seconds=0.0004),
)  # fmt: skip


class Two:
    """``q7`` fits any clip, ``upright`` none."""

    def names(self):
        return ["q7", "upright"]

    def of(self, clip, name, capture_rate_hz):  # noqa: ARG002
        if name == "upright":
            raise PuttvisionError("lens profile upright is for a picture of another shape")
        return LENS if name == "q7" else None


@pytest.fixture
def lensed(tmp_path, prepared):
    with copied(prepared, tmp_path, Access()) as site:
        site.desk = replace(site.desk, lenses=Two())
        site.jobs = NoJobs()
        site.app = build(site.desk, site.access, jobs=site.jobs)
        yield site


def test_a_profile_goes_to_the_worker_whole():
    data = json.loads(json.dumps(lenses.to_json(LENS)))
    assert options({"known_lens": data}).lens == LENS
    assert options({}).lens is None
    assert options({"known_lens": lenses.to_json(replace(LENS, readout=None))}).lens.readout is None


def test_a_chosen_profile_is_in_the_order(lensed, tiny_clip):
    client = Client(lensed)
    assert "q7" in client.get("/", headers={"accept": "text/html"}).text
    answer = upload(client, tiny_clip.read_bytes(), lens="q7")
    job = lensed.jobs.get(answer.json()["clip"])
    assert job.order["by_hand"]["known_lens"]["name"] == "q7"
    page = client.get(f"/clips/{answer.json()['clip']}", headers={"accept": "text/html"}).text
    assert "<option selected>q7</option>" in page
    again = client.post(f"/clips/{lensed.clip.id}/measure", json={"marks": {"lens": "q7"}})
    assert again.status_code == 200
    assert lensed.jobs.get(lensed.clip.id).order["by_hand"]["known_lens"]["prior"]["u_ln_f"] == 0.001


def test_a_profile_that_does_not_fit_is_said_on_the_clips_page(lensed, tiny_clip):
    client = Client(lensed)
    clip = upload(client, tiny_clip.read_bytes(), lens="upright").json()["clip"]
    assert lensed.jobs.get(clip) is None
    assert "another shape" in client.get(f"/clips/{clip}/state").json()["error"]
    again = client.post(f"/clips/{clip}/measure", json={"marks": {"lens": "upright"}})
    assert again.status_code == 400
    assert "another shape" in again.json()["error"]


@pytest.mark.parametrize("lens", ["../q7", "no-such", "x" * 61, "q7\x00x"])
def test_a_profile_that_is_not_kept_is_refused_before_the_clip_is_taken(lensed, tiny_clip, lens):
    before = len(list(lensed.shelf.root.iterdir()))
    assert upload(Client(lensed), tiny_clip.read_bytes(), lens=lens).status_code == 400
    assert len(list(lensed.shelf.root.iterdir())) == before


@pytest.mark.parametrize("lens", [7, "", ["q7"], "no-such"])
def test_a_wrong_lens_among_the_marks_is_refused(lensed, lens):
    answer = Client(lensed).post(f"/clips/{lensed.clip.id}/measure", json={"marks": {"lens": lens}})
    assert answer.status_code == 400


def test_without_profiles_nothing_is_asked(client, tiny_clip):
    assert 'id="lens"' not in client.get("/", headers={"accept": "text/html"}).text
    assert upload(client, tiny_clip.read_bytes(), lens="q7").status_code == 400
