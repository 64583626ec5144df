"""`puttvision sheet` as a coach calls it."""

import sys

import pypdfium2
import pytest
from pdf_reading import words

from puttvision.cli.app import main


@pytest.fixture
def run(monkeypatch, tmp_path, capsys):
    """Run the command line in an empty folder: exit code, what it said, what it complained."""
    monkeypatch.chdir(tmp_path)

    def call(*arguments):
        monkeypatch.setattr(sys, "argv", ["puttvision", "sheet", *arguments])
        with pytest.raises(SystemExit) as end:
            main()
        said = capsys.readouterr()
        return end.value.code, said.out, said.err

    return call


def names(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def first_words(path):
    pdf = path.read_bytes()
    return [words(pdf, page)[:7] for page in range(len(pypdfium2.PdfDocument(pdf)))]


def test_as_it_comes_sheets_0_and_1_on_a4(run, tmp_path):
    code, said, _ = run()
    assert code == 0
    assert names(tmp_path) == ["sheets.pdf"]
    assert first_words(tmp_path / "sheets.pdf") == ["0 Sheet", "1 Sheet"]
    assert "A4" in words((tmp_path / "sheets.pdf").read_bytes())
    assert "sheets.pdf" in said
    assert "100.0 mm" in said


def test_chosen_sheets_paper_and_place(run, tmp_path):
    code, said, _ = run("--id", "3", "--id", "0", "--paper", "Letter", "--out", "new/mine.pdf")
    assert code == 0
    assert first_words(tmp_path / "new" / "mine.pdf") == ["3 Sheet", "0 Sheet"]
    assert "US Letter" in said


def test_one_file_each_and_the_guide(run, tmp_path):
    code, said, _ = run("--id", "7", "--id", "8", "--each", "--guide")
    assert code == 0
    assert names(tmp_path) == ["sheets-7.pdf", "sheets-8.pdf", "sheets-guide.pdf"]
    assert first_words(tmp_path / "sheets-8.pdf") == ["8 Sheet"]
    assert first_words(tmp_path / "sheets-guide.pdf") == ["Filming"]
    assert all(name in said for name in names(tmp_path))


@pytest.mark.parametrize(
    ("arguments", "complaint"),
    [
        pytest.param(["--id", "10"], "no sheet 10: sheets are 0 to 9", id="id too high"),
        pytest.param(["--id", "-1"], "no sheet -1", id="id below 0"),
        pytest.param(["--id", "two"], "--id", id="id no number"),
        pytest.param(["--id", "2", "--id", "2"], "sheet 2 is there twice", id="id repeated"),
        pytest.param(["--paper", "a3"], "--paper", id="paper unknown"),
        pytest.param(["--out", "sheets.png"], "end the name in .pdf", id="no PDF"),
    ],
)
def test_wrong_usage_is_said_and_leaves_nothing(run, tmp_path, arguments, complaint):
    code, _, err = run(*arguments)
    assert code == 2
    assert complaint in err
    assert names(tmp_path) == []


def test_a_place_that_cannot_be_written_is_one_line(run, tmp_path):
    (tmp_path / "file").write_text("in the way")
    code, _, err = run("--out", "file/sheets.pdf")
    assert code == 1
    assert err.count("\n") == 1
    assert "cannot write file/sheets.pdf" in err.replace("\\", "/")
    assert "--out" in err
    assert names(tmp_path) == ["file"]


def test_one_bad_place_leaves_the_other_files_as_they_were(run, tmp_path):
    (tmp_path / "sheets-1.pdf").mkdir()
    (tmp_path / "sheets-0.pdf").write_text("last season's")
    code, _, err = run("--each")
    assert code == 1
    assert "sheets-1.pdf: a folder has that name" in err
    assert (tmp_path / "sheets-0.pdf").read_text() == "last season's"
    assert names(tmp_path) == ["sheets-0.pdf"]


def test_a_full_disk_keeps_the_old_file(run, tmp_path, monkeypatch):
    (tmp_path / "sheets.pdf").write_text("last season's")

    def full(_path, _data):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.write_bytes", full)
    code, _, err = run()
    assert code == 1
    assert "No space left on device" in err
    assert (tmp_path / "sheets.pdf").read_text() == "last season's"
    assert names(tmp_path) == ["sheets.pdf"]
