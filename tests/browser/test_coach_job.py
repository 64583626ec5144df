"""The coach's whole job in a real browser: drop a clip in, watch, step, correct, undo, note."""

import re

import pytest
from page_server import until

pytestmark = pytest.mark.slow


def drop(page, site, clip, drill="ball-gate-points"):
    """Choose a clip on the front page and wait until it is measured."""
    page.goto(site.url)
    page.get_by_label("Drill").select_option(drill)
    page.get_by_label("Everyone in the picture").check()
    page.get_by_label("Choose or film a clip").set_input_files(str(clip))
    page.wait_for_url(re.compile(r"/clips/\w+$"))
    page.wait_for_url(re.compile(r"/sessions/\d+$"), timeout=120_000)


@pytest.fixture(scope="module")
def session(chromium, site, little):
    """Address of the session that the little clip became."""
    page = chromium.new_page()
    drop(page, site, little)
    address = page.url
    page.close()
    return address


@pytest.fixture
def page(page_of, width, session):
    page = page_of(width)
    page.goto(session)
    page.wait_for_selector("#cards article")
    until(page, "window.film && film.overlay && film.video.readyState >= 2")
    yield page
    # whatever a test corrected is undone
    while page.locator("#undo").is_enabled():
        with page.expect_response("**/change"):
            page.locator("#undo").click()
        page.wait_for_timeout(50)


def changed(page, press):
    """Do something that changes the session, and wait for the answer."""
    with page.expect_response("**/change") as answer:
        press()
    page.wait_for_timeout(100)
    return answer.value


def test_the_dropped_clip_is_a_session_with_its_putt_and_score(page):
    assert "Putt 1" in page.locator("#putt-title").inner_text()
    assert "holed" in page.locator("#putt").inner_text()  # little_clip: it drops
    assert page.locator("#cards .figure").inner_text() == "1 point"  # holed through the gate
    assert page.locator("#timeline button").count() == 1


def test_one_key_corrects_and_the_score_follows(page):
    changed(page, lambda: page.keyboard.press("m"))
    assert "missed" in page.locator("#putt .call").inner_text()
    assert page.locator("#cards .figure").inner_text() == "0.5 points"  # through the gate, not holed
    assert "now 0.5 points" in page.locator("#changed").inner_text()
    assert "Quill" in page.locator("#events li").first.inner_text()
    changed(page, lambda: page.keyboard.press("o"))
    assert page.locator("#cards .figure").inner_text() == "0 points"
    page.reload()
    page.wait_for_selector("#cards article")
    assert page.locator("#cards .figure").inner_text() == "0 points"
    changed(page, lambda: page.keyboard.press("z"))
    changed(page, lambda: page.keyboard.press("z"))
    assert page.locator("#cards .figure").inner_text() == "1 point"


def test_buttons_do_the_same_by_touch(page, width):
    missed = page.locator("[data-value='missed']")
    changed(page, lambda: missed.tap() if width == "phone" else missed.click())
    assert missed.get_attribute("aria-pressed") == "true"
    assert page.locator("#cards .figure").inner_text() == "0.5 points"


def test_no_putt_and_a_putt_that_was_missed(page):
    changed(page, lambda: page.keyboard.press("x"))
    assert "0 putts counted" in page.locator("#cards").inner_text()
    changed(page, lambda: page.keyboard.press("z"))
    changed(page, lambda: page.keyboard.press("p"))
    assert page.locator("#list [data-putt]").count() == 2
    assert "put in by hand" in page.locator("#list").inner_text()


def test_frames_are_stepped_one_by_one(page):
    page.evaluate("film.seek(1.0)")
    until(page, "Math.abs(film.shown - 1.0) < 0.02")
    for k in range(1, 4):
        page.keyboard.press("ArrowRight")
        until(page, f"Math.abs(film.shown - (1.0 + {k} / 30)) < 0.01")
    page.keyboard.press("ArrowLeft")
    until(page, "Math.abs(film.shown - (1.0 + 2 / 30)) < 0.01")


def test_it_plays_slowly_with_the_drawing_in_step(page):
    page.evaluate("film.seek(0.5)")
    page.keyboard.press("w")
    assert page.evaluate("film.video.playbackRate") == 0.25
    page.keyboard.press(" ")
    until(page, "film.shown > 0.8")
    page.keyboard.press(" ")
    assert page.evaluate("film.video.paused")


def test_the_drawing_follows_where_the_browser_tells_of_no_frame(page_of, session):
    page = page_of()
    page.add_init_script("HTMLVideoElement.prototype.requestVideoFrameCallback = () => 0")
    page.goto(session)
    page.wait_for_selector("#cards article")
    until(page, "window.film && film.overlay && film.video.readyState >= 2")
    page.evaluate("film.seek(1.1)")
    until(page, "Math.abs(film.shown - 1.1) < 0.02")


def test_a_wrong_start_is_set_to_the_frame_shown(page):
    page.evaluate("film.seek(0.7)")
    until(page, "Math.abs(film.shown - 0.7) < 0.02")
    changed(page, lambda: page.keyboard.press("s"))
    assert "at 0:00.70" in page.locator("#events li").first.inner_text()


def test_a_note_is_kept_over_a_reload(page, width):
    page.keyboard.press("n")
    page.keyboard.type(f"steady head, h m u on {width}")  # keys do nothing while a note is written
    page.keyboard.press("Enter")
    page.wait_for_selector("#notes li")
    page.reload()
    page.wait_for_selector("#notes li")
    assert f"steady head, h m u on {width}" in page.locator("#notes").inner_text()
    assert not page.locator("#undo").is_enabled()
    page.get_by_role("button", name="Take the note away").first.click()
    until(page, "document.querySelector('#notes li') === null")


def test_two_tabs_the_later_is_told_and_nothing_is_lost(page, page_of, session):
    other = page_of()
    other.goto(session)
    other.wait_for_selector("#cards article")
    changed(page, lambda: page.keyboard.press("m"))
    answer = changed(other, lambda: other.keyboard.press("u"))
    assert answer.status == 409
    page_of.faults[:] = [fault for fault in page_of.faults if "409" not in fault]  # the browser's own line
    told = other.locator("#conflict").inner_text()
    assert "Quill" in told
    assert "unseen" in told
    assert "missed" in other.locator("#putt .call").inner_text()  # what the first tab said stands
    changed(other, lambda: other.get_by_role("button", name="Make my change all the same").click())
    assert "not seen" in other.locator("#putt .call").inner_text()
    assert other.locator("#events li").count() >= 2
    other.close()
    page.reload()
    page.wait_for_selector("#cards article")


def test_keys_can_be_switched_off(page):
    page.locator("#keys-on").uncheck()
    page.locator("#keys-on").blur()
    page.keyboard.press("m")
    page.wait_for_timeout(200)
    assert "holed" in page.locator("#putt .call").inner_text()
