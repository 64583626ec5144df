"""The card's file: one line a key, on disk (flushed and synced) before anyone sees what the key did.

``card.jsonl`` begins with a line that says which drill it is, by the text of its rules, so that a card
is finished by the rules it was begun with. Each further line is one key and its instant. A last line
that broke off (battery, kill -9) was never shown: reading leaves it out, going on cuts it off.
A lock beside the file keeps a second window out; it goes with the process that holds it.
"""

from __future__ import annotations

import json
import math
import os
import time
from dataclasses import asdict, dataclass
from io import BufferedWriter
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from puttvision.card.keys import NAMES, Press
from puttvision.drill.rules import Options
from puttvision.errors import CardError
from puttvision.files import replacing

FORMAT = "puttvision-card/1"
LOG_FILE = "card.jsonl"
_LOCK_FILE = ".card.lock"
_HAND_OVER_FILE = ".card.hand-over"
_HAND_OVER_WAIT_S = 5.0
"""An open card looks once a second whether it is asked to hand over."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What a card is of; the first line of its file."""

    drill: str
    """As it was named on the command line."""
    rules: str
    """Text of the drill file."""
    options: Options
    stake: str | None
    """Named for this card; None: as the drill file has it."""
    began: str
    """Day and time, ISO 8601 with the offset."""
    player: str | None = None
    """For whom the journal is to keep it."""
    store: str | None = None
    """The journal's file; None: as the command line or the environment names it when the card is over."""
    day: str | None = None
    """Day it was played, where that is not the day it began; ISO 8601."""
    place: str | None = None
    """Where it was played: one of the journal's places."""


class CardLog:
    """An open card file: holds the lock, takes one key after the other."""

    def __init__(self, folder: Path, lock: FileLock) -> None:
        self.folder = folder
        self._lock = lock
        self._file: BufferedWriter | None = None

    def append(self, press: Press) -> None:
        """Put a key on disk; returns once it is there. Raises CardError where the disk takes it not."""
        line = json.dumps({"at": round(press.at_s, 3), "key": press.key}) + "\n"
        try:
            if self._file is None:
                self._file = (self.folder / LOG_FILE).open("ab")
            self._file.write(line.encode())
            self._file.flush()
            os.fsync(self._file.fileno())
        except OSError as err:
            raise CardError(
                f"cannot write {self.folder / LOG_FILE}: {err.strerror or err}; "
                "the last key is lost, all before it is kept"
            ) from err

    def asked_to_hand_over(self) -> bool:
        """Whether another window wants to take the card over."""
        return (self.folder / _HAND_OVER_FILE).exists()

    def close(self) -> None:
        """Close the file and let the lock go."""
        try:
            if self._file is not None:
                self._file.close()
        except OSError:
            pass  # what was not written was said by `append` already
        finally:
            self._file = None
            self._lock.release()


def begin(folder: Path, header: Header) -> CardLog:
    """Begin a card in a folder that holds none; CardError where there is something already."""
    for name in (LOG_FILE, "putts.json", "scorecard.json"):
        if (folder / name).exists():
            mend = "add --resume to go on with it, or " if name == LOG_FILE else ""
            what = "a card" if name == LOG_FILE else name
            raise CardError(f"{folder} holds {what} already: {mend}give --out another folder")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as err:
        raise CardError(f"cannot make the folder {folder}: {err.strerror or err}") from err
    log = CardLog(folder, _locked(folder, take_over=False))
    try:
        with replacing(folder / LOG_FILE) as temporary, temporary.open("w", encoding="utf-8") as file:
            file.write(json.dumps({"format": FORMAT} | asdict(header), ensure_ascii=False) + "\n")
            file.flush()
            os.fsync(file.fileno())
        _sync_folder(folder)
    except BaseException:
        log.close()
        raise
    return log


def go_on(folder: Path, take_over: bool = False) -> tuple[CardLog, Header, list[Press]]:
    """Open the card in a folder again, and read what it holds.

    ``take_over``: where it is open in another window, ask that window to close it. CardError where
    there is none, it is damaged, or it stays open elsewhere.
    """
    read(folder)  # says what is wrong before anything is locked or cut
    log = CardLog(folder, _locked(folder, take_over))
    try:
        header, presses, good_bytes = _read(folder)
        with (folder / LOG_FILE).open("r+b") as file:
            file.truncate(good_bytes)
            os.fsync(file.fileno())
    except OSError as err:
        log.close()
        raise CardError(f"cannot write {folder / LOG_FILE}: {err.strerror or err}") from err
    except BaseException:
        log.close()
        raise
    return log, header, presses


def read(folder: Path) -> tuple[Header, list[Press]]:
    """What the card in a folder holds, open or not; CardError where there is none or it is damaged."""
    header, presses, _ = _read(folder)
    return header, presses


def _read(folder: Path) -> tuple[Header, list[Press], int]:
    path = folder / LOG_FILE
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise CardError(f"there is no card in {folder}: leave --resume away to begin one") from None
    except OSError as err:
        raise CardError(f"cannot read {path}: {err.strerror or err}") from err
    whole = data[: data.rfind(b"\n") + 1]
    lines = whole.splitlines()
    if not lines:
        raise CardError(f"{path} is empty: no card was begun there; give --out another folder")
    header = _header(_object(lines[0], path, 1), path)
    presses: list[Press] = []
    for number, line in enumerate(lines[1:], start=2):
        presses.append(_press(_object(line, path, number), path, number))
    return header, presses, len(whole)


def _object(line: bytes, path: Path, number: int) -> dict[str, Any]:
    try:
        data = json.loads(line)
    except (UnicodeDecodeError, json.JSONDecodeError):
        data = None
    if not isinstance(data, dict):
        raise CardError(f"{path}, line {number} is damaged: take that line out with an editor")
    return data


def _header(data: dict[str, Any], path: Path) -> Header:
    if data.get("format") != FORMAT:
        raise CardError(f"{path} is no card of this program ({FORMAT} was due in its first line)")
    try:
        options = dict(data["options"])
        if options["players"] is not None:
            options["players"] = tuple(options["players"])
        texts = {key: data[key] for key in ("drill", "rules", "stake", "began", "player", "store")}
        return Header(**texts, options=Options(**options), day=data.get("day"), place=data.get("place"))
    except (KeyError, TypeError, ValueError) as err:
        raise CardError(f"{path}, line 1 is damaged ({err}): begin a new card") from err


def _press(data: dict[str, Any], path: Path, number: int) -> Press:
    key, at_s = data.get("key"), data.get("at")
    if key not in NAMES or not isinstance(at_s, (int, float)) or not math.isfinite(at_s):
        raise CardError(f"{path}, line {number} is damaged: take that line out with an editor")
    return Press(key, float(at_s))


# --- lock ------------------------------------------------------------------------------------


def _locked(folder: Path, take_over: bool) -> FileLock:
    lock = FileLock(folder / _LOCK_FILE, thread_local=False)  # whichever thread closes lets it go
    ask = folder / _HAND_OVER_FILE
    try:
        lock.acquire(timeout=0)
    except Timeout:
        if not take_over:
            raise CardError(
                f"the card in {folder} is open in another window: close it there (q), "
                "or add --resume --take-over to go on with it here"
            ) from None
        ask.touch()
        try:
            lock.acquire(timeout=_HAND_OVER_WAIT_S)
        except Timeout:
            raise CardError(
                f"the card in {folder} is open in another window that does not answer: end that window first"
            ) from None
        finally:
            ask.unlink(missing_ok=True)
    except OSError as err:
        raise CardError(f"cannot lock the card in {folder}: {err.strerror or err}") from err
    ask.unlink(missing_ok=True)
    return lock


def _sync_folder(folder: Path) -> None:
    """Put a new name in a folder on disk, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


# --- where cards lie -------------------------------------------------------------------------


def new_folder(base: Path, drill: str) -> Path:
    """A folder that is not there yet for a card begun now: ``base/nine-six-three-2026-04-30-0840``."""
    stem = f"{drill}-{time.strftime('%Y-%m-%d-%H%M')}"
    names = (stem if number == 1 else f"{stem}-{number}" for number in range(1, 1000))
    return next(base / name for name in names if not (base / name).exists())


def latest(base: Path, drill: str | None) -> Path:
    """The folder under ``base`` of the card a key was last pressed on; ``drill`` None: of any drill."""
    found: list[tuple[float, Path]] = []
    for path in base.glob(f"*/{LOG_FILE}"):
        try:
            header, presses = read(path.parent)
        except CardError:
            continue
        if drill in (None, header.drill):
            found.append((presses[-1].at_s if presses else 0.0, path.parent))
    if not found:
        which = f"of {drill} " if drill else ""
        raise CardError(f"there is no card {which}in {base}: give its folder with --out")
    return max(found)[1]
