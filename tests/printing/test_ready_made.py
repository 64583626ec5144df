"""The pages in calibration/: what the code makes today, found by the program, shipped in the wheel."""

import tomllib
from pathlib import Path

import pytest
from pdf_reading import drawing, words

from puttvision.printing.ready_made import ready_made, write_ready_made
from puttvision.resources import shipped

CHECKOUT = Path(__file__).resolve().parents[2]
NAMES = [f"sheet-{i}-{paper}.pdf" for paper in ("a4", "letter") for i in range(4)] + [
    f"{page}-{paper}.pdf" for page in ("field-guide", "lens-board") for paper in ("a4", "letter")
]


@pytest.fixture(scope="module")
def made():
    return ready_made()


def test_sheets_0_to_3_guide_and_lens_board_are_made_for_both_papers(made):
    assert sorted(made) == sorted(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_shipped_page_is_what_the_code_makes(made, name):
    pdf = shipped("calibration", name).read_bytes()
    # the drawing itself, not the file around it, which another version of the library may write otherwise
    assert drawing(pdf) == drawing(made[name]) != []
    assert words(pdf) == words(made[name])


def test_nothing_else_lies_there():
    assert {path.name for path in (CHECKOUT / "calibration").glob("*.pdf")} == set(NAMES)


def test_readme_of_the_folder_names_every_kind():
    text = (CHECKOUT / "calibration" / "README.md").read_text(encoding="utf-8")
    for name in (
        "sheet-0-a4.pdf",
        "sheet-3-letter.pdf",
        "field-guide-a4.pdf",
        "field-guide-letter.pdf",
        "lens-board-a4.pdf",
        "lens-board-letter.pdf",
    ):
        assert name in text


def test_wheel_takes_the_folder_along():
    build = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"]
    included = build["targets"]["wheel"]["force-include"]
    assert included["calibration"] == "puttvision/_shipped/calibration"


def test_pages_can_be_written_anew(made, tmp_path):
    write_ready_made(tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == made
