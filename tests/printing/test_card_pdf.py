"""The score card on paper: one page, room for a pencil, the rules and the boxes of each drill."""

import re
import sys

import cv2
import numpy as np
import pypdfium2
import pytest
from pdf_reading import raster, size_mm, text_boxes_mm, words

from puttvision.cli.app import main
from puttvision.drill.catalogue import load, names
from puttvision.drill.load import parse_rules
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.printing.card_pdf import card_pdf
from puttvision.printing.paper import PAPERS

BY_EYE = [name for name in names() if name != "start-line-points"]
A4 = PAPERS["a4"]


def pdf_of(name, paper="a4", **options):
    return card_pdf(with_options(load(name), Options(**options)), PAPERS[paper])


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", BY_EYE)
def test_one_page_with_everything_inside_a_printers_edge(name, paper):
    pdf = pdf_of(name, paper)
    assert len(pypdfium2.PdfDocument(pdf)) == 1
    width, height = size_mm(pdf)
    size = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}[paper]  # ISO 216; ANSI Letter, 8.5 x 11 in
    assert (width, height) == pytest.approx(size, abs=0.2)
    ink = np.argwhere(raster(pdf, px_per_mm=4) < 200) / 4
    # 6.4 mm (a quarter of an inch) is a common unprintable edge of office printers; no source
    assert ink.min(axis=0).min() >= 6.4
    assert ink[:, 0].max() <= height - 6.4
    assert ink[:, 1].max() <= width - 6.4


@pytest.mark.parametrize("name", BY_EYE)
def test_words_do_not_run_over_each_other(name):
    boxes = text_boxes_mm(pdf_of(name))
    for number, one in enumerate(boxes):
        for other in boxes[number + 1 :]:
            overlap = np.minimum(one[2:], other[2:]) - np.maximum(one[:2], other[:2])
            assert overlap.min() < 0.6, (one, other)  # descenders may meet the next line's capitals


def n_boxes(pdf):
    """Boxes to tick: white areas all round with ink, 25 to 600 square millimetres."""
    page = (raster(pdf, px_per_mm=6) > 215).astype(np.uint8)
    _, _, stats, _ = cv2.connectedComponentsWithStats(page, connectivity=4)
    area_mm2 = stats[1:, cv2.CC_STAT_AREA] / 36
    full = stats[1:, cv2.CC_STAT_AREA] / (stats[1:, cv2.CC_STAT_WIDTH] * stats[1:, cv2.CC_STAT_HEIGHT])
    return int(((area_mm2 > 25) & (area_mm2 < 600) & (full > 0.97)).sum())


@pytest.mark.parametrize(
    ("name", "options", "boxes"),
    [
        pytest.param("ball-gate-points", {}, 20 * 3, id="20 putts: gate, holed, points"),
        pytest.param("ball-gate-points", {"putts": 40}, 40 * 3, id="40 putts"),
        pytest.param("grips-and-balls", {}, 24, id="a tick a putt"),
        pytest.param("one-ball-out", {}, 9 * 2, id="nine balls: putts taken, points"),
        pytest.param("hole-by-hole", {"players": ("Ines", "Oluf")}, 9 * 2, id="nine holes for two"),
        pytest.param("rounds-to-win", {}, 5 * 5, id="five rounds of at most five"),
    ],
)
def test_a_box_for_every_putt(name, options, boxes):
    assert n_boxes(pdf_of(name, **options)) == boxes


@pytest.mark.parametrize("name", ["nine-six-three", "head-gate-streak", "three-lives", "clock-round"])
def test_a_drill_that_starts_again_has_rows_for_it(name):
    make = {"nine-six-three": 4 + 4 + 2, "head-gate-streak": 50, "three-lives": 15, "clock-round": 16}[name]
    assert n_boxes(pdf_of(name)) >= 3 * make


def test_rules_stake_and_command_stand_on_it():
    text = words(pdf_of("nine-six-three"))
    for due in ("Nine, six, three", "Stage 2: 6 ft, make three, one miss", "Clock to beat 20 minutes",
                "puttvision card nine-six-three", "start again in the next row"):  # fmt: skip
        assert due in text
    assert "once round the green with the bag" in words(pdf_of("must-make-finish"))
    assert "trail hand alone" in words(pdf_of("head-gate-streak"))
    assert "puttvision card ball-gate-points --putts 30 --strict" in words(
        pdf_of("ball-gate-points", putts=30, strict=True)
    )


def test_more_putts_than_a_page_holds_are_said():
    text = words(pdf_of("ball-gate-points", putts=1000))
    left_out = int(re.search(r"(\d+) putts more: take a second card", text)[1])
    assert 1000 - left_out >= 60
    assert len(pypdfium2.PdfDocument(pdf_of("ball-gate-points", putts=1000))) == 1


def test_a_drill_file_with_long_words_stays_on_the_page():
    name = "the very long name of a drill that a coach thought of on the bus home " * 3
    rules = parse_rules(
        f'name = "own"\ntitle = "{name.strip()}"\nstake = "{"an ice cream or " * 20}tea"\n'
        '[[stage]]\nputts = 5\nmade_needed = 3\non_fault = "start again"\n'
        f'forfeit = "{"ten press-ups " * 20}"\n'
    )
    pdf = card_pdf(rules, A4)
    right = max(box[2] for box in text_boxes_mm(pdf))
    assert right <= 210 - 10
    assert "..." in words(pdf)


@pytest.fixture
def run(monkeypatch, tmp_path, capsys):
    """Run `puttvision card` in an empty folder: exit code, what it said, what it complained."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments):
        monkeypatch.setattr(sys, "argv", ["puttvision", "card", *arguments])
        with pytest.raises(SystemExit) as end:
            main()
        said = capsys.readouterr()
        return end.value.code, said.out, said.err

    return call


def test_printed_by_the_command(run, tmp_path):
    words_of_command = (
        "hole-by-hole",
        "--players",
        "Ines,Oluf",
        "--stake",
        "two sleeves",
        "--paper",
        "LETTER",
    )
    code, said, _ = run(*words_of_command, "--print", "cards/match.pdf")
    assert (code, said) == (0, "written: cards/match.pdf (US Letter)\n")
    text = words((tmp_path / "cards" / "match.pdf").read_bytes())
    assert "Ines" in text
    assert "two sleeves" in text
    assert "buys the coffee" not in text


@pytest.mark.parametrize(
    ("arguments", "code", "why"),
    [
        pytest.param(["lag-zone", "--print", "a.txt"], 2, "end the name in .pdf", id="no PDF"),
        pytest.param(["--print", "a.pdf"], 2, "name a drill", id="no drill"),
        pytest.param(["lag-zone", "--resume", "--print", "a.pdf"], 2, "without --resume", id="resumed"),
        pytest.param(["lag-zon", "--print", "a.pdf"], 1, "lag-zone", id="a slip in the name"),
        pytest.param(["start-line-points", "--print", "a.pdf"], 1, "takes a film", id="not by eye"),
        pytest.param(["lag-zone", "--target", "3", "--print", "a.pdf"], 1, "--target", id="no such option"),
        pytest.param(["lag-zone", "--print", "there.pdf"], 1, "a folder has that name", id="a folder"),
    ],
)
def test_what_cannot_be_printed_is_said_in_a_line(run, tmp_path, arguments, code, why):
    (tmp_path / "there.pdf").mkdir()
    ended, _, complaint = run(*arguments)
    assert ended == code
    assert why in " ".join(complaint.replace("│", " ").split())
    assert code == 2 or complaint.count("\n") == 1
    assert [path.name for path in tmp_path.iterdir()] == ["there.pdf"]
