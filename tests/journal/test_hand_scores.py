"""Hand scores from CSV: an exact message for every bad row, and nothing kept when one is bad."""

from datetime import date

import pytest

from puttvision.errors import JournalError
from puttvision.journal.hand_scores import BadRowsError, import_scores
from puttvision.journal.history import putts_of, sessions_of
from puttvision.journal.people import add_player, list_players
from puttvision.journal.places import put_place


@pytest.fixture
def store(journal):
    add_player(journal, "Ines")
    add_player(journal, "Oluf")
    put_place(journal, "Quillow Park 3")
    return journal


def file(tmp_path, text, encoding="utf-8"):
    path = tmp_path / "scores.csv"
    path.write_bytes(text.encode(encoding))
    return path


GOOD = """player,day,drill,outcome,gate_result,miss_side,hole_distance_m,place,putts_in_drill
Ines,2026-05-04,ball-gate-points,holed,clear,,3.05,Quillow Park 3,3
Ines,2026-05-04,ball-gate-points,missed,clear,left,3.05,Quillow Park 3,3
Ines,2026-05-04,ball-gate-points,missed,outside,right,3.05,Quillow Park 3,3

Oluf,2026-05-05,,missed,,,,,
Oluf,2026-05-05,,holed,,,,,
"""


def test_sessions_of_several_players_are_kept_and_scored(store, tmp_path):
    path = file(tmp_path, GOOD)
    done = import_scores(store, path)
    assert (done.sessions, done.putts, done.known) == (2, 5, 0)
    session = sessions_of(store, "Ines")[0]
    # By the drill's rules: 1 + 0.5 + 0.
    assert (session.cards[0].points, session.cards[0].state, session.place) == (
        1.5,
        "finished",
        "Quillow Park 3",
    )
    putts = [one.putt for one in putts_of(store, "Ines")]
    assert [putt.miss_side for putt in putts] == [None, "left", "right"]
    assert putts[0].hole_distance_m.value == 3.05
    assert sessions_of(store, "Oluf")[0].day == date(2026, 5, 5)
    again = import_scores(store, path)
    assert (again.sessions, again.putts, again.known) == (0, 0, 2)
    assert [one.n_putts for one in list_players(store)] == [3, 2]


def test_semicolons_and_decimal_commas_and_a_byte_order_mark(store, tmp_path):
    text = "Player;Day;Outcome;hole_distance_m\nInes;2026-05-04;Holed;1,83\n"
    import_scores(store, file(tmp_path, text, "utf-8-sig"))
    assert putts_of(store, "Ines")[0].putt.hole_distance_m.value == 1.83


def test_two_alike_sessions_of_a_day_are_told_apart_by_the_session_column(store, tmp_path):
    text = "player,day,session,outcome\nInes,2026-05-04,morning,holed\nInes,2026-05-04,evening,holed\n"
    assert import_scores(store, file(tmp_path, text)).sessions == 2


@pytest.mark.parametrize(
    ("row", "says"),
    [
        (
            "Inez,2026-05-04,,1,holed,,,",
            'line 3, player: a player of the journal was due; nearest: "Ines", got "Inez"',
        ),
        ("Ines,4 May,,1,holed,,,", 'line 3, day: a day such as 2026-04-30 was due, got "4 May"'),
        ("Ines,2026-05-04,,1,sunk,,,", 'line 3, outcome: one of holed, missed, unseen was due, got "sunk"'),
        ("Ines,2026-05-04,,1,,,,", 'line 3, outcome: one of holed, missed, unseen was due, got ""'),
        ("Ines,2026-05-04,,0,holed,,,", 'line 3, putt: a whole number from 1 was due, got "0"'),
        ("Ines,2026-05-01,,1,holed,,,", "line 3, putt: a number above 1 was due in this session, got 1"),
        (
            "Ines,2026-05-04,,1,holed,shut,,",
            "line 3, gate_result: one of clear, touched, outside, none was due",
        ),
        ("Ines,2026-05-04,,1,holed,,left,", "line 3, miss_side: nothing was due with a putt that was holed"),
        (
            "Ines,2026-05-04,,1,holed,,,3 ft",
            'line 3, hole_distance_m: metres, 0.1 to 60, were due, got "3 ft"',
        ),
        ("Ines,2026-05-04,nine-six-thre,1,holed,,,", 'nearest: "nine-six-three", got "nine-six-thre"'),
        ("Ines,2026-05-04,,1,holed,,,,9", "line 3: 8 cells were due, got 9"),
    ],
)
def test_a_bad_row_is_told_and_nothing_is_kept(store, tmp_path, row, says):
    head = "player,day,drill,putt,outcome,gate_result,miss_side,hole_distance_m\n"
    path = file(tmp_path, f"{head}Ines,2026-05-01,,1,holed,,,\n{row}\n")
    with pytest.raises(JournalError) as caught:
        import_scores(store, path)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
    assert [one.n_sessions for one in list_players(store)] == [0, 0]


def test_every_bad_row_is_told(store, tmp_path):
    path = file(tmp_path, "player,day,outcome\nInez,soon,sunk\nInes,2026-05-04,holed\nOluf,2026-05-04,\n")
    with pytest.raises(BadRowsError, match="4 faults, nothing was kept") as caught:
        import_scores(store, path)
    assert [row.split(":")[0] for row in caught.value.rows] == [
        "line 2, player",
        "line 2, day",
        "line 2, outcome",
        "line 4, outcome",
    ]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("player,day,result\nInes,2026-05-04,holed\n", 'no column is called "result"'),
        ("player,outcome\nInes,holed\n", "the column day is missing"),
        ("player,day,outcome,day\nInes,2026-05-04,holed,x\n", "stands there twice"),
        ("player,day,outcome\n", "no row below its head"),
        ("", "the column player is missing"),
        ("player,day,outcome,target\nInes,2026-05-04,holed,50\n", "a drill was due with target"),
        ("player,day,outcome,drill,target\nInes,2026-05-04,holed,lag-zone,5\n", "takes no --target"),
    ],
)
def test_a_file_that_is_not_fit(store, tmp_path, text, says):
    with pytest.raises(JournalError, match=says):
        import_scores(store, file(tmp_path, text))


def test_a_file_in_another_encoding(store, tmp_path):
    path = file(tmp_path, "player,day,outcome\nJörg,2026-05-04,holed\n", "latin-1")
    with pytest.raises(JournalError, match="not in UTF-8"):
        import_scores(store, path)
