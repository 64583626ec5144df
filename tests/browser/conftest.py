"""A headless Chromium without its background networking; tests are skipped where there is none."""

import os
import shutil

import little_clip
import pytest
from page_server import running

SIZES = {"desktop": {"width": 1280, "height": 900}, "phone": {"width": 390, "height": 844}}


@pytest.fixture(scope="module")
def chromium():
    # no longer than a module: Playwright's event loop would be in the way of other tests
    api = pytest.importorskip("playwright.sync_api", reason="Playwright for Python is not installed")
    path = os.environ.get("PUTTVISION_CHROMIUM") or shutil.which("chromium")
    if path is None:
        pytest.skip("there is no Chromium here (Debian: apt-get install chromium)")
    with api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path,
            args=["--disable-background-networking", "--disable-component-update", "--no-first-run"],
        )
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def little(tmp_path_factory):
    """The small clip of one putt, holed through a gate."""
    return little_clip.pack(tmp_path_factory.mktemp("clip") / "little putt.mp4", little_clip.pictures())


@pytest.fixture(params=SIZES)
def width(request):
    return request.param


@pytest.fixture
def page_of(chromium):
    """Opens pages of a given width that fail the test on any console error or request to elsewhere."""
    contexts, faults = [], []

    def open_page(width="desktop", scheme="light"):
        context = chromium.new_context(
            viewport=SIZES[width], has_touch=width == "phone", is_mobile=width == "phone", color_scheme=scheme
        )
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("request", lambda asked: None if "//127.0.0.1:" in asked.url else faults.append(asked.url))
        page.set_default_timeout(15_000)
        return page

    open_page.faults = faults
    yield open_page
    for context in contexts:
        context.close()
    assert faults == []


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    """The page, with nothing in it."""
    with running(tmp_path_factory.mktemp("site")) as site:
        yield site


@pytest.fixture(scope="module")
def axe():
    """axe-core, which looks a page over."""
    api = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-core is not installed")
    return api.Axe()
