"""axe-core finds no serious fault on any page, light or dark, desktop or phone; keys reach everything."""

import shutil

import printed
import pytest
from axe_core import serious_faults
from page_server import until
from typer.testing import CliRunner

from puttvision.cli.app import app
from puttvision.drill import catalogue
from puttvision.drill.scorecard import score
from puttvision.files import write_json
from puttvision.journal.groups import add_group
from puttvision.journal.people import add_player
from puttvision.journal.store import opened
from puttvision.putts import ClipInfo, Figure, Gate, Putt, PuttSheet, to_json
from puttvision.review.page.shelf import About
from puttvision.review.report.page import Report, html
from sample_media.year import make_year

pytestmark = pytest.mark.slow

SHEET = PuttSheet(
    putts=(
        Putt(
            number=1, outcome="holed", gate_result="clear", start_s=Figure(0.3, 0.01),
            launch_speed_m_s=Figure(2.0, 0.02), gate_offset_mm=Figure(4.0, 1.0),
        ),
        Putt(number=2, outcome="missed", gate_result="touched", start_s=Figure(0.9), review=("close",)),
        Putt(number=3, outcome="unseen", gate_result="outside", start_s=Figure(1.6)),
    ),
    clip=ClipInfo(file="monday.mp4", duration_s=2.3, frames=69, width=1280, height=720),
    gate=Gate(distance_m=Figure(0.45), width_mm=Figure(65.0), square_deg=Figure(0.0)),
)  # fmt: skip


_FOCUS = """() => {
  const watch = document.querySelector('.watch'), now = document.activeElement
  if (watch.contains(now) || !now.closest('main section')) return null
  const { bottom } = watch.getBoundingClientRect()
  return { top: now.getBoundingClientRect().top, covered: bottom, what: now.outerHTML.slice(0, 80) }
}"""
"""Top of what has the focus, and how far down the film covers the page; null within the film's own part."""


@pytest.fixture(scope="module")
def clip_id(site, little):
    add_player(site.desk.store, "Ines", consent=True)
    coming = site.desk.shelf.coming()
    shutil.copy(little, coming)
    about = About(name="monday.mp4", player="Ines", drill="ball-gate-points")
    kept = site.desk.shelf.take_in(coming, ".mp4", about)
    write_json(kept.folder / "putts.json", to_json(SHEET))
    site.desk.keep(kept)
    return kept.id


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_report_has_no_serious_fault(page_of, axe, width, scheme):
    page = page_of(width, scheme)
    card = score(catalogue.load("ball-gate-points"), SHEET.putts)
    advice = ("Record first: 20 putts with `puttvision card`.", "Two drills.")
    page.set_content(html(Report(sheet=SHEET, card=card, player="Ines", day="2026-04-30", advice=advice)))
    assert page.locator("code").inner_text() == "puttvision card"
    assert serious_faults(axe, page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.fixture(scope="module")
def printed_pages(tmp_path_factory):
    """The progress page of an invented player and the ladder for the notice board."""
    folder = tmp_path_factory.mktemp("pages")
    store = str(folder / "j.db")
    make_year(store, "Ines", seed=7, weeks=8)
    with opened(store) as journal:
        add_player(journal, "Oluf", consent=False)
        add_group(journal, "Youth", ["Ines", "Oluf"])
    orders = {
        "progress": ["progress", "Ines"],
        "ladder": ["ladder", "Youth", "--drill", "ball-gate-points", "--codes"],
    }
    for name, words in orders.items():
        done = CliRunner().invoke(app, [*words, "--page", str(folder / f"{name}.html"), "--store", store])
        assert done.exit_code == 0, done.output
    return folder


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", ["progress", "ladder"])
def test_pages_to_print_have_no_serious_fault(page_of, printed_pages, axe, width, scheme, name):
    page = page_of(width, scheme)
    page.set_content((printed_pages / f"{name}.html").read_text(encoding="utf-8"))
    assert serious_faults(axe, page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("down_mm", [0, 40, 75])
def test_the_progress_page_prints_without_cut_plots(page_of, printed_pages, tmp_path, down_mm):
    page = page_of()
    text = (printed_pages / "progress.html").read_text(encoding="utf-8")
    # pushed down, sections come to lie across the pages' ends: there they must move on whole
    page.set_content(text.replace("<main>", f'<main><div style="height:{down_mm}mm"></div>'))
    out = tmp_path / "progress.pdf"
    page.pdf(path=out, format="A4", prefer_css_page_size=True)
    assert "Holed by distance" in printed.words_of(out)
    printed.assert_nothing_is_cut(out)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_is_not_there_has_no_serious_fault(page_of, site, axe, width, scheme):
    page = page_of(width, scheme)
    page.goto(f"{site.url}/sessions/77")
    assert page.locator("h1").inner_text() == "That did not work"
    assert serious_faults(axe, page) == []
    page_of.faults[:] = [fault for fault in page_of.faults if "404" not in fault]  # the browser's own line


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_serious_fault(page_of, site, clip_id, axe, width, scheme):
    page = page_of(width, scheme)
    for path in ("/", "/sessions/1", f"/clips/{clip_id}"):
        page.goto(site.url + path)
        if "sessions" in path:
            page.wait_for_selector("#list li")
            page.keyboard.press("h")  # a correction brings more onto the page
            page.wait_for_selector("#events li")
        page.wait_for_timeout(200)
        assert serious_faults(axe, page) == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), f"{path} is too wide"
        if "sessions" in path:
            with page.expect_response("**/change"):
                page.keyboard.press("z")


def test_every_call_is_reached_by_tab_and_said(page_of, site, clip_id):  # noqa: ARG001
    page = page_of()
    page.goto(f"{site.url}/sessions/1")
    page.wait_for_selector("#list li")
    reached = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("document.activeElement.innerText.trim() || document.activeElement.id"))
    for name in (
        "Holed",
        "Missed",
        "End not seen",
        "Clear",
        "Outside",
        "Not a putt",
        "Next to look at",
        "Play",
    ):
        assert any(name in one for one in reached), name
    page.keyboard.press("l")
    until(page, "document.getElementById('told')?.textContent.startsWith('Putt ')")


def test_what_has_the_focus_is_never_under_the_film_of_a_phone(page_of, site, clip_id):  # noqa: ARG001
    page = page_of("phone")
    page.goto(f"{site.url}/sessions/1")
    page.wait_for_selector("#list li")
    until(page, "Boolean(window.film && film.facts.width === 1280)")
    looked = 0
    for key in ["Tab"] * 45 + ["Shift+Tab"] * 30:
        page.keyboard.press(key)
        place = page.evaluate(_FOCUS)
        if place is not None:
            assert place["top"] >= place["covered"] - 1, place
            looked += 1
    assert looked > 40


def test_what_needs_an_eye_comes_first(page_of, site, clip_id):  # noqa: ARG001
    page = page_of()
    page.goto(f"{site.url}/sessions/1")
    page.wait_for_selector("#list li")
    order = page.locator("#list [data-putt]").evaluate_all("all => all.map(one => one.dataset.putt)")
    assert order == ["2", "3", "1"]
    assert page.locator("#putt-title").inner_text() == "Putt 2"
    page.keyboard.press("a")
    until(page, "document.querySelector('#list [data-putt]').dataset.putt === '3'")
    page.keyboard.press("z")
    until(page, "document.querySelector('#list [data-putt]').dataset.putt === '2'")


def test_film_and_putt_come_before_what_explains_them(page_of, site, clip_id, width):  # noqa: ARG001
    page = page_of(width)
    page.goto(f"{site.url}/sessions/1")
    page.wait_for_selector("#list li")
    names = ("watch", "putt", "score", "all", "history", "causes", "next", "help")
    tops = {name: page.locator(f"section.{name}").bounding_box()["y"] for name in names}
    if width == "phone":
        assert sorted(names, key=tops.get) == list(names)
    else:
        assert max(tops["watch"], tops["putt"]) < min(
            tops[name] for name in names if name not in ("watch", "putt")
        )
    assert tops["next"] > tops["causes"] > tops["watch"]
