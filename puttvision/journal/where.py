"""Where the journal lies, which file is one of ours, and what a database's complaint means to the coach.

Nothing here needs SQLAlchemy: a command that only reads does without (`questions.py`).
"""

from __future__ import annotations

import os
from pathlib import Path

from platformdirs import user_data_path

from puttvision.errors import JournalError

SCHEMA = "0003"
"""The schema this program writes: its newest migration. Stated so that opening need not look for it."""
VARIABLE = "PUTTVISION_STORE"
APPLICATION_ID = 0x50_75_74_74
"""Marks our SQLite files ("Putt"), in the header field that SQLite keeps for this."""
WAIT_S = 30.0
"""How long a writer waits for another one; a session is written in milliseconds."""


def default_file() -> Path:
    """The journal in the user's own data folder."""
    return user_data_path("puttvision", appauthor=False) / "journal.db"


def place(option: str | None = None) -> str:
    """Where the journal is: the option, else the environment variable, else the user's data folder."""
    return option or os.environ.get(VARIABLE) or str(default_file())


def check_file(path: Path) -> None:
    """Refuse a file that is not an SQLite file of ours, before SQLite is let near it."""
    try:
        head = path.read_bytes()[:100] if path.stat().st_size < 100 else path.open("rb").read(100)
    except FileNotFoundError:
        return
    except OSError as err:
        raise JournalError(f"cannot read the journal {path}: {err.strerror or err}") from err
    if not head:
        return
    if len(head) < 100 or not head.startswith(b"SQLite format 3\0"):
        raise JournalError(
            f"{path} is no journal, or is damaged: it was left as it is; name another file or a backup"
        )
    if int.from_bytes(head[68:72], "big") not in (0, APPLICATION_ID):
        raise JournalError(f"{path} belongs to another program: it was left as it is; name another file")


def complaint(shown: str, err: Exception) -> JournalError:
    """A database's own error as one line for the coach; ``shown``: the store."""
    reason = str(getattr(err, "orig", None) or err).strip().splitlines()[0]
    if "malformed" in reason or "not a database" in reason or "corrupt" in reason:
        return JournalError(f"{shown} is damaged ({reason}): it was left as it is; use a backup")
    if "locked" in reason:
        return JournalError(f"{shown} is in use by another program: try again when it is done")
    return JournalError(f"the journal {shown} cannot be used: {reason}")
