"""The report's page: what it says, that it needs nothing else, and how it shows and prints in a browser."""

import html as html_module
import random
import re
import shutil
import statistics
import subprocess
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import printed
import pytest
import report_setting as setting
from typer.testing import CliRunner

from puttvision.cli.app import app
from puttvision.drill.catalogue import load
from puttvision.drill.scorecard import score
from puttvision.files import write_json
from puttvision.putts import Figure, Putt, PuttSheet, to_json
from puttvision.review.report import figures
from puttvision.review.report.advice import advice
from puttvision.review.report.changes import changes
from puttvision.review.report.page import Report, html

SHEET = setting.sheet()
CARD = score(load("ball-gate-points"), SHEET.putts)


def page(**other):
    return html(Report(**{"sheet": SHEET, "card": CARD, "player": "Ines", "day": "30 April 2026", **other}))


def text_of(page_html):
    body = re.sub(r"<(style|title)>.*?</\1>", " ", page_html, flags=re.S)
    return " ".join(html_module.unescape(re.sub(r"<[^>]+>", " ", body)).split())


class Checker(HTMLParser):
    """Every element is closed in order."""

    VOID = ("meta", "link", "br", "path", "circle", "rect")

    def __init__(self):
        super().__init__()
        self.open, self.wrong, self.addresses = [], [], []

    def handle_starttag(self, tag, attrs):
        self.addresses += [v for k, v in attrs if k in ("src", "href")]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        pass

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)


def test_the_page_is_well_formed_and_loads_nothing():
    checker = Checker()
    checker.feed(page())
    assert checker.wrong == checker.open == []
    assert checker.addresses == ["data:,"]
    assert "<script" not in page()
    assert "default-src 'none'" in page()
    assert not re.search(r"https?://", page())


def test_everything_is_on_it():
    text = text_of(page(notes=("Aim first.",)))
    for words in (
        "Ines", "30 April 2026", "20 putts", "10.0 ft", "Putt 7: passed the left post",
        "Putt 15: something hid", "Start lines, seen from above", "At the hole", "Pace",
        "The drill as it went",
        "What to practise next", "Aim first.", "How good the set-up was", "turn it back",
        "What the words mean", "set aside",
    ):  # fmt: skip
        assert words in text, words
    assert f"{CARD.points / 100:g}" in text


def test_figures_are_those_of_the_putts():
    # worked out here with the standard library
    errors = [p.start_direction_to_gate_deg.value for p in SHEET.putts]
    shown = {fact.name: fact.value for fact in figures.facts(figures.session(SHEET.putts))}
    assert shown["Start line, mean"] == f"{abs(statistics.mean(errors)):.1f}° right"
    assert shown["Start line, spread"] == f"{statistics.stdev(errors):.1f}°"
    holed = sum(p.outcome == "holed" for p in SHEET.putts)
    assert shown["Holed"] == f"{holed} of 19", "a putt that was not seen is neither made nor missed"
    run = [100 * p.run_out_m.value for p in SHEET.putts if p.run_out_m]
    assert shown["Pace, mean"] == f"{statistics.mean(run):.0f} cm past"


def test_a_bias_that_stands_out_is_the_advice_and_chance_is_not():
    assert advice(figures.session(setting.putts(bias_deg=0.9)))[0].startswith("Aim:")
    straight = advice(figures.session(setting.putts(bias_deg=0.02)))
    assert not any(text.startswith("Aim:") for text in straight)
    assert "too few" in advice(figures.session(setting.putts(n=5)))[0]


def without_gate(offset_mm):
    """Putts that break: all start 1.8 degrees left of the hole, and pass it that far right of its middle."""
    rng = random.Random(5)
    return tuple(
        Putt(
            number=k, outcome="holed", start_direction_to_hole_deg=Figure(rng.gauss(-1.8, 0.4), 0.1),
            hole_offset_mm=Figure(rng.gauss(offset_mm, 15), 3.0), run_out_m=Figure(0.3, 0.02),
        )
        for k in range(1, 21)
    )  # fmt: skip


def test_a_putt_aimed_off_for_its_break_is_no_fault_of_aim():
    said = advice(figures.session(without_gate(0.0)))
    assert not any(text.startswith("Aim") for text in said)
    off = advice(figures.session(without_gate(30.0)))[0]
    assert re.match(r"Aim and read: putts pass (2\d|3\d) mm right of the hole's middle", off)


def test_a_second_sheet_is_wished_for_only_where_there_is_none():
    unsure = tuple(replace(p, start_direction_to_gate_deg=Figure(0.1, 0.9)) for p in SHEET.putts)
    two = replace(SHEET, putts=unsure)
    assert "known to ± 0.90°: film from nearer or from behind." in text_of(page(sheet=two))
    one = replace(two, green=replace(SHEET.green, sheets=(0,)))
    assert "from behind, with a second sheet." in text_of(page(sheet=one))


def test_no_line_ends_between_a_figure_and_its_unit():
    text = html_module.unescape(page())
    assert not re.search(r"\d (%|mm|cm|m|m/s|ft|s|min)(?![\w/])", text.split("</style>")[1])
    assert "m/s" in text


def test_changes_within_chance_are_called_none():
    this, same = figures.session(setting.putts(seed=4)), figures.session(setting.putts(seed=9))
    by_name = {c.name: c.verdict for c in changes(this, same, (12.5, 14.5))}
    assert by_name["Points"] == "+2"
    assert by_name["Start line, mean"].startswith("no real change")
    other = figures.session(setting.putts(seed=9, bias_deg=-0.6))
    assert {c.name: c.verdict for c in changes(this, other, (None, None))}["Start line, mean"].startswith(
        "a real change: 1."
    )


def test_names_are_only_words():
    text = page(player="<b>Ines</b> & <script>x</script>", notes=('"><img src=x>',))
    assert "<script>" not in text
    assert "<img" not in text
    assert "&lt;script&gt;" in text


def test_a_session_scored_by_hand_has_a_page_too():
    sheet = PuttSheet(
        putts=tuple(Putt(number=k, outcome="holed" if k % 2 else "missed") for k in range(1, 9))
    )
    text = text_of(html(Report(sheet=sheet, card=score(load("nine-six-three"), sheet.putts))))
    assert "Scored by hand" in text
    assert "At the hole" not in text.split("What the words mean")[0]
    assert "nan" not in text.lower()


def test_a_session_without_a_putt():
    assert "No putt was seen" in page(sheet=replace(SHEET, putts=()), card=None)


def test_the_command_writes_one_file(tmp_path):
    write_json(tmp_path / "putts.json", to_json(SHEET))
    words = ["report", str(tmp_path / "putts.json"), "--drill", "ball-gate-points", "--player", "Ines"]
    words += ["--date", "2026-04-30", "--out", str(tmp_path / "r" / "ines.html"), "--note", "Well done."]
    done = CliRunner().invoke(app, words, env={"PUTTVISION_STORE": ""})
    assert done.exit_code == 0, done.output
    assert [path.name for path in (tmp_path / "r").iterdir()] == ["ines.html"]
    assert "nothing from the journal is in it: " in done.stderr
    assert "30 April 2026" in (tmp_path / "r" / "ines.html").read_text(encoding="utf-8")


def test_a_wrong_day_is_a_usage_error(tmp_path):
    write_json(tmp_path / "putts.json", to_json(SHEET))
    done = CliRunner().invoke(
        app, ["report", str(tmp_path / "putts.json"), "--date", "30.4.", "--out", "x.html"]
    )
    assert done.exit_code == 2


# --- in a browser -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def browser():
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.skip("there is no Chromium here (Debian's package `chromium`)")
    return path


def run(browser, folder, *words, file):
    profile = folder / "profile"
    return subprocess.run(
        [
            browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
            "--host-resolver-rules=MAP * ~NOTFOUND", "--enable-logging=stderr", f"--user-data-dir={profile}",
            "--hide-scrollbars", *words, file.as_uri(),
        ],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("page")
    (folder / "report.html").write_text(page(notes=("Well done.",)), encoding="utf-8")
    return folder


@pytest.mark.slow
def test_it_opens_without_network_and_without_a_complaint(browser, written):
    done = run(browser, written, "--dump-dom", file=written / "report.html")
    assert "How good the set-up was" in done.stdout
    assert "CONSOLE" not in done.stderr


@pytest.mark.slow
@pytest.mark.parametrize("width", [360, 1200])
def test_nothing_runs_out_of_the_window(browser, written, width):
    cv2 = pytest.importorskip("cv2")
    # a page that is too wide is scrolled sideways: its last column of pixels is then no plain paper
    shot = written / f"shot{width}.png"
    # Chromium's window is never narrower than 500: a frame of the width wanted stands in
    frame = written / f"frame{width}.html"
    frame.write_text(
        f'<body style="margin:0"><iframe src="report.html" style="width:{width}px;height:3000px;border:0">'
    )
    run(browser, written, f"--window-size={max(width, 600)},3000", f"--screenshot={shot}", file=frame)
    picture = cv2.imread(str(shot)).astype(int)[:, :width]
    paper = picture[1500, 2]
    assert np.abs(picture[:, -3:] - paper).max() < 12


@pytest.mark.slow
@pytest.mark.parametrize(("paper", "down_mm"), [("A4", 0), ("letter", 0), ("A4", 75), ("letter", 60)])
def test_it_prints_without_cut_plots(browser, written, paper, down_mm):
    # pushed down, the plots come to lie across the pages' ends: there they must move on whole
    pdfium = pytest.importorskip("pypdfium2")
    source = written / f"{paper}.html"
    text = (written / "report.html").read_text(encoding="utf-8")
    source.write_text(
        text.replace("@page{margin:14mm}", f"@page{{size:{paper};margin:14mm}}"), encoding="utf-8"
    )
    text = source.read_text(encoding="utf-8")
    source.write_text(text.replace("</header>", f'</header><div style="height:{down_mm}mm"></div>'), "utf-8")
    out = written / f"{paper}{down_mm}.pdf"
    run(browser, written, "--no-pdf-header-footer", f"--print-to-pdf={out}", file=source)
    document = pdfium.PdfDocument(str(out))
    width, height = document[0].get_size()
    assert (round(width), round(height)) == ((595, 842) if paper == "A4" else (612, 792))
    words = printed.words_of(out)
    for title in ("Start lines, seen from above", "At the hole", "Pace", "What the words mean"):
        assert title in words
    printed.assert_nothing_is_cut(out)
