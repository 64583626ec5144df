"""What the journal gives back: in playing order, with corrections applied, and by drill and day."""

from dataclasses import replace
from datetime import date

import pytest
from sqlalchemy import event

from puttvision.drill import catalogue
from puttvision.drill.scorecard import score
from puttvision.errors import JournalError
from puttvision.journal.corrections import add_putt, correct
from puttvision.journal.history import cards_of, putts_of, session_facts, sessions_of
from puttvision.journal.people import add_player
from puttvision.journal.places import put_place
from puttvision.journal.record import record
from puttvision.putts import ClipInfo, Figure, Gate, Green, Putt, PuttSheet

GATE = "ball-gate-points"
STREAK = "head-gate-streak"


def sheet(n, shift=0):
    """Filmed putts; ``shift`` makes another sheet of it."""
    putts = tuple(
        Putt(
            number=k,
            outcome="holed" if (k + shift) % 3 else "missed",
            gate_result="clear",
            start_s=Figure(10.0 * k),
            hole_distance_m=Figure(3.05, 0.01),
        )
        for k in range(1, n + 1)
    )
    clip = ClipInfo(file=f"{shift}.mp4", duration_s=100.0 + shift, frames=6000, width=1920, height=1080)
    gate = Gate(distance_m=Figure(0.45), width_mm=Figure(65.0, 3.0), square_deg=Figure(1.0))
    green = Green(sheets=(0,), reprojection_rms_px=0.2, hole_px=None, stimp_ft=Figure(9.5, 0.4))
    return PuttSheet(putts=putts, clip=clip, gate=gate, green=green)


def keep(store, player, putts, day, drill, **more):
    card = score(catalogue.load(drill), putts.putts)
    return record(store, player, putts, day=day, card=card, rules_text=catalogue.text(drill), **more).session


@pytest.fixture
def store(journal):
    add_player(journal, "Ines", consent=True, hand="left")
    add_player(journal, "Oluf", consent=True)
    put_place(journal, "Quillow Park 3", stimp_ft=Figure(9.8, 0.3))
    keep(journal, "Ines", sheet(20, 1), date(2026, 5, 11), GATE)
    keep(journal, "Ines", sheet(20, 0), date(2026, 5, 4), GATE, place="Quillow Park 3")
    keep(journal, "Ines", sheet(12, 2), date(2026, 5, 18), STREAK)
    keep(journal, "Oluf", sheet(20, 3), date(2026, 5, 4), GATE)
    return journal


def test_putts_come_in_the_order_they_were_played(store):
    played = putts_of(store, "Ines")
    assert [one.session.day.day for one in played] == [4] * 20 + [11] * 20 + [18] * 12
    assert [one.putt.number for one in played] == [*range(1, 21), *range(1, 21), *range(1, 13)]
    assert tuple(one.putt for one in played[:20]) == sheet(20, 0).putts
    assert {one.session.player for one in played} == {"Ines"}


def test_lines_say_how_a_putt_was_to_be_played(store):
    last = putts_of(store, "Ines", drill=STREAK)
    lines = score(catalogue.load(STREAK), sheet(12, 2).putts).lines
    assert [one.line.grip for one in last] == [line.step.setting.grip for line in lines]
    assert [one.line.made for one in last] == [putt.outcome == "holed" for putt in sheet(12, 2).putts]
    assert last[0].line.distance_m == pytest.approx(0.9144)  # 3 ft


def test_by_day_and_drill(store):
    assert len(putts_of(store, "Ines", since=date(2026, 5, 11))) == 32
    assert len(putts_of(store, "Ines", until=date(2026, 5, 11))) == 40
    assert len(putts_of(store, "Ines", drill=GATE, since=date(2026, 5, 11))) == 20
    assert [one.day.day for one in sessions_of(store, "Ines", limit=2)] == [11, 18]
    assert len(sessions_of(store)) == 4
    assert [one.player for one in sessions_of(store, until=date(2026, 5, 4))] == ["Ines", "Oluf"]


def test_a_session_is_told_with_place_gate_and_drills(store):
    found = sessions_of(store, "Ines", until=date(2026, 5, 4))[0]
    assert session_facts(store, found.id) == found
    assert (found.place, found.hand, found.filmed, found.n_putts) == ("Quillow Park 3", "left", True, 20)
    assert found.gate == sheet(1).gate
    assert found.stimp_ft == Figure(9.5, 0.4)
    # 14 of 20 holed, 6 missed through the gate.
    assert [(card.drill, card.points, card.made) for card in found.cards] == [(GATE, 17.0, 14)]
    with pytest.raises(JournalError, match="no session 99"):
        session_facts(store, 99)


def test_corrections_are_in_all_of_it(store):
    number = sessions_of(store, "Ines")[0].id
    correct(store, number, 3, "outcome", "holed", "Coach", "", 0)
    correct(store, number, 5, "is_putt", False, "Coach", "", 1)
    add_putt(store, number, Putt(number=1, outcome="holed", start_s=Figure(15.0)), "Coach", "", 2)
    played = [one for one in putts_of(store, "Ines") if one.session.id == number]
    assert [one.putt.number for one in played] == [1, 21, 2, 3, 4, *range(6, 21)]
    assert played[3].putt.outcome == "holed"
    assert played[3].line.points == 1.0
    assert session_facts(store, number).version == 3
    points = {one.day.day: one.card.points for one in cards_of(store, ["Ines"], GATE)}
    # One miss more holed; a holed one away, another in its place holed without the gate: 1 as it comes.
    assert points[4] == 17.5


def test_scorecards_of_several_players(store):
    found = cards_of(store, ["Ines", "Oluf"], GATE)
    assert [(one.player, one.day.day) for one in found] == [("Ines", 4), ("Oluf", 4), ("Ines", 11)]
    assert [one.player for one in cards_of(store, ["Oluf"], GATE)] == ["Oluf"]


def test_the_number_of_questions_does_not_grow(store):
    asked = []
    event.listen(store.engine, "before_cursor_execute", lambda *words: asked.append(words[2]))
    putts_of(store, "Oluf")
    few = len(asked)
    asked.clear()
    putts_of(store, "Ines")
    assert len(asked) == few < 12


def test_nothing_kept_yet(journal):
    add_player(journal, "Ines")
    assert putts_of(journal, "Ines") == []
    assert sessions_of(journal, "Ines") == []
    with pytest.raises(JournalError, match='did you mean "Ines"'):
        putts_of(journal, "Inez")


def test_a_list_by_hand_has_no_clip(store):
    by_hand = PuttSheet(putts=tuple(replace(putt, start_s=Figure()) for putt in sheet(20, 7).putts))
    number = keep(store, "Oluf", by_hand, date(2026, 6, 1), GATE)
    found = session_facts(store, number)
    assert (found.filmed, found.gate, found.place, found.stimp_ft) == (False, None, None, Figure())
