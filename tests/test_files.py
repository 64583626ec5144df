"""Files are there whole or not at all."""

import json
import os
import stat
import tempfile
from pathlib import Path

import pytest

from puttvision.errors import PuttvisionError
from puttvision.files import check_place, replacing, write_json, write_text


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def write_half(path, fault):
    with replacing(path) as temporary:
        temporary.write_text("half")
        raise fault


def test_text_and_json_are_written_as_utf8(tmp_path):
    write_text(tmp_path / "a.txt", "Nähe\n")
    assert (tmp_path / "a.txt").read_bytes() == b"N\xc3\xa4he\n"
    write_json(tmp_path / "b.json", {"why": "Nähe", "value": 1.5})
    assert json.loads((tmp_path / "b.json").read_text(encoding="utf-8")) == {"why": "Nähe", "value": 1.5}
    assert names(tmp_path) == ["a.txt", "b.json"]


def test_folders_are_made_where_they_are_missing(tmp_path):
    write_text(tmp_path / "one" / "two" / "a.txt", "x")
    assert (tmp_path / "one" / "two" / "a.txt").read_text() == "x"


def test_a_reader_never_meets_half_a_file(tmp_path):
    path = tmp_path / "putts.json"
    path.write_text("before")
    with replacing(path) as temporary:
        temporary.write_text("half")
        assert path.read_text() == "before"  # what others see while it is being written
        temporary.write_text("whole")
    assert path.read_text() == "whole"
    assert names(tmp_path) == ["putts.json"]


@pytest.mark.parametrize("fault", [RuntimeError("bug"), KeyboardInterrupt(), SystemExit(2)])
def test_what_goes_wrong_half_way_leaves_nothing(tmp_path, fault):
    path = tmp_path / "putts.json"
    path.write_text("before")
    with pytest.raises(type(fault)):
        write_half(path, fault)
    assert path.read_text() == "before"
    assert names(tmp_path) == ["putts.json"]


def test_a_full_disk_is_one_clear_line(tmp_path):
    path = tmp_path / "putts.json"
    with pytest.raises(PuttvisionError, match=r"cannot write .*putts\.json: No space left") as caught:
        write_half(path, OSError(28, "No space left on device"))
    assert "\n" not in str(caught.value)
    assert names(tmp_path) == []


def test_what_json_cannot_say_is_not_written(tmp_path):
    # RFC 8259, section 6: no NaN and no infinity in JSON
    with pytest.raises(ValueError, match="JSON compliant"):
        write_json(tmp_path / "a.json", {"value": float("nan")})
    assert names(tmp_path) == []


def test_a_file_in_place_of_the_folder(tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(PuttvisionError, match="cannot write") as caught:
        write_text(tmp_path / "out" / "a.txt", "x")
    assert "\n" not in str(caught.value)
    assert (tmp_path / "out").read_text() == "a file"


def test_a_folder_in_place_of_the_file(tmp_path):
    (tmp_path / "putts.json").mkdir()
    with pytest.raises(PuttvisionError, match="cannot write"):
        write_text(tmp_path / "putts.json", "x")
    assert names(tmp_path) == ["putts.json"]


def test_a_folder_that_may_not_be_written(tmp_path, monkeypatch):
    folder = tmp_path / "locked"
    folder.mkdir()
    folder.chmod(0o500)
    if os.access(folder, os.W_OK):  # root may write everywhere: refuse as the system would
        refused = PermissionError(13, "Permission denied")
        monkeypatch.setattr("tempfile.mkstemp", lambda **_: (_ for _ in ()).throw(refused))
    try:
        with pytest.raises(PuttvisionError, match=r"cannot write .*a\.txt: Permission denied") as caught:
            write_text(folder / "a.txt", "x")
    finally:
        folder.chmod(0o700)
    assert "\n" not in str(caught.value)
    assert names(folder) == []


def test_a_folder_that_cannot_be_made():
    # /proc takes no new folders from anybody, root included
    if not Path("/proc/self").is_dir():
        pytest.skip("no /proc here")
    with pytest.raises(PuttvisionError, match=r"cannot write /proc/nowhere/a\.txt"):
        write_text(Path("/proc/nowhere/a.txt"), "x")


def test_permissions_are_those_of_any_new_file(tmp_path):
    # temporary files are 0600; what lands is readable to others as the user's umask says
    before = os.umask(0o022)
    try:
        write_text(tmp_path / "a.txt", "x")
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "a.txt").stat().st_mode) == 0o644


def test_a_place_is_tried_without_leaving_anything(tmp_path):
    check_place(tmp_path / "new" / "folder")
    assert list(tmp_path.iterdir()) == []


def test_a_place_below_a_file_is_refused(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    for folder in (tmp_path / "notes.txt", tmp_path / "notes.txt" / "deeper"):
        with pytest.raises(PuttvisionError, match="cannot write"):
            check_place(folder)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full on this system")
def test_a_full_disk_is_told(tmp_path, monkeypatch):
    # Linux's /dev/full answers every write with "No space left on device"
    monkeypatch.setattr(tempfile, "TemporaryFile", lambda **_: open("/dev/full", "wb"))  # noqa: SIM115, PTH123
    with pytest.raises(PuttvisionError, match="No space left"):
        check_place(tmp_path)
