"""What a putt takes in the store, from a small one; the whole benchmark is `journal_size.py`."""

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
