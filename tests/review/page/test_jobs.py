"""The worker in a process of its own: it measures, tells how far it is, fails in one line, can be stopped."""

import asyncio

import little_clip
import pytest

from puttvision import putts, scene
from puttvision.clip.source import open_clip
from puttvision.review.page.jobs import Jobs
from puttvision.review.page.preview import make_preview, preview_size


def until_over(*orders, look=None):
    """Run orders to their end; the jobs."""

    async def go():
        jobs = Jobs()
        started = [jobs.start(f"job {i}", *order) for i, order in enumerate(orders)]
        while not all(job.is_over for job in started):
            if look:
                await look(jobs, started)
            await asyncio.sleep(0.05)
        await jobs.stop_all()
        return started

    return asyncio.run(asyncio.wait_for(go(), 120))


def test_what_cannot_be_measured_fails_in_one_line(tmp_path, tiny_clip):
    bad = tmp_path / "bad.mp4"
    bad.write_bytes(b"no clip")
    first, second = until_over(("measure", bad, tmp_path), ("preview", tiny_clip, tmp_path))
    assert first.state == "failed"
    assert "bad.mp4" in first.error
    assert str(tmp_path) not in first.error
    assert "\n" not in first.error
    assert second.state == "done"
    assert (tmp_path / "preview.mp4").is_file()


def test_a_job_can_be_stopped_and_leaves_nothing(tmp_path, tiny_clip):
    async def stop(jobs, started):
        if started[0].process is not None:
            await jobs.stop("job 0")

    (job,) = until_over(("measure", tiny_clip, tmp_path), look=stop)
    assert job.state == "stopped"
    assert not (tmp_path / "putts.json").exists()


@pytest.mark.slow
def test_measuring_tells_how_far_it_is_and_writes_putts_and_scene(tmp_path):
    clip = little_clip.pack(tmp_path / "little.mp4", little_clip.pictures())
    told = []

    async def look(_, started):
        told.append(started[0].done_s)

    (job,) = until_over(("measure", clip, tmp_path, {}, "as the coach calls it.mp4"), look=look)
    assert job.state == "done"
    assert told == sorted(told)
    assert job.total_s == pytest.approx(little_clip.LENGTH_S, abs=0.1)
    sheet = putts.load(tmp_path / "putts.json")
    assert sheet.clip.file == "as the coach calls it.mp4"
    assert len(scene.load(tmp_path / "scene.json").putts) == len(sheet.putts) == 1


def test_a_preview_has_the_clip_s_own_times(tmp_path, tiny_clip):
    made = tmp_path / "preview.mp4"
    make_preview(tiny_clip, made)
    with open_clip(tiny_clip) as clip, open_clip(made) as copy:
        assert copy.facts.codec == "h264"
        pairs = list(zip(clip.frames(), copy.frames(), strict=True))
        assert len(pairs) == 6
        for frame, copied in pairs:
            assert copied.time_s == pytest.approx(frame.time_s, abs=2e-5)
            assert abs(float(frame.luma.mean()) - float(copied.luma.mean())) < 1.5


@pytest.mark.parametrize(
    ("size", "small"), [((1920, 1080), (1280, 720)), ((1080, 1920), (720, 1280)), ((640, 360), (640, 360))]
)
def test_previews_keep_their_shape(size, small):
    assert preview_size(*size) == small
