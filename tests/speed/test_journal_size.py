"""What a putt takes in the store, from a small one; the whole benchmark is `journal_size.py`."""

import json
import subprocess
import sys

import pytest

from puttvision.journal.people import add_player
from puttvision.journal.store import opened
from tests.speed.journal_size import PUTTS, fill, name, size_mb


def test_200_000_putts_take_less_than_100_mb(tmp_path):
    where = str(tmp_path / "j.db")
    with opened(where) as store:
        for player in range(30):
            add_player(store, name(player), consent=True)
    empty_mb = size_mb(where)
    fill(where, 0, 30)
    assert (size_mb(where) - empty_mb) / (30 * PUTTS) * 200_000 < 100


SLOW_TO_LOAD = (
    "scipy", "matplotlib", "alembic", "sqlalchemy", "cv2", "av", "rich.console", "starlette", "reportlab",
)  # fmt: skip
"""Each takes a tenth of a second or more to load; the answer has one second in all."""


@pytest.mark.parametrize("command", ["progress", "next"])
def test_what_is_asked_for_most_loads_nothing_slow(tmp_path, command):
    where = str(tmp_path / "j.db")
    with opened(where) as store:
        add_player(store, name(0), consent=True)
    fill(where, 0, 1)
    code = (
        "import json, sys; from puttvision.cli.app import app; "
        f"app({[command, name(0), '--store', where]!r}, standalone_mode=False); "
        "print(json.dumps(sorted(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = json.loads(done.stdout.splitlines()[-1])
    assert "puttvision.journal.history" in loaded
    assert [module for module in SLOW_TO_LOAD if module in loaded] == []
