"""Corrections: events beside the measured putts, drills scored anew, later editors told."""

from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from datetime import date, timedelta
from itertools import count

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from puttvision.drill import catalogue
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.scorecard import score
from puttvision.errors import ConflictError, JournalError
from puttvision.journal.corrections import (
    add_putt,
    as_it_stands,
    correct,
    measured_sheet,
    undo,
)
from puttvision.journal.people import add_player
from puttvision.journal.record import record
from puttvision.journal.tables import Scorecard, ScorecardLine
from puttvision.putts import ClipInfo, Figure, Gate, Green, Putt, PuttSheet, Rest

DAY = date(2026, 5, 4)
DRILL = "ball-gate-points"
DAYS = count(1)
WHO = {"who": "Coach", "why": ""}


def filmed(n=20):
    putts = tuple(
        Putt(
            number=k,
            outcome="holed" if k % 3 else "missed",
            gate_result="clear" if k % 4 else "outside",
            start_s=Figure(10.0 * k, 0.01),
            start_direction_to_hole_deg=Figure(0.1 * k, 0.1),
            hole_offset_mm=Figure(3.0 * k, 4.0),
            rest=None if k % 3 else Rest(along_m=Figure(3.4, 0.02), right_m=Figure(0.1, 0.02)),
            confidence=0.9,
            review=("the gate is close",) if k == 4 else (),
        )
        for k in range(1, n + 1)
    )
    return PuttSheet(
        putts=putts,
        clip=ClipInfo(file="a.mp4", duration_s=300.0, frames=18000, width=1920, height=1080),
        green=Green(
            sheets=(0, 3), reprojection_rms_px=0.2, hole_px=(1200.5, 640.25), stimp_ft=Figure(9.6, 0.4)
        ),
        gate=Gate(distance_m=Figure(0.45, 0.004), width_mm=Figure(65.0, 3.0), square_deg=Figure(1.2, 0.6)),
        warnings=("the phone moved a little",),
    )


@pytest.fixture
def kept(journal):
    add_player(journal, "Ines", consent=True)
    card = score(catalogue.load(DRILL), filmed().putts)
    done = record(journal, "Ines", filmed(), day=DAY, card=card, rules_text=catalogue.text(DRILL))
    return journal, done.session


def kept_points(store):
    """Points of the scorecard as it lies in the store, and by its lines."""
    with store.reading() as session:
        card = session.scalars(select(Scorecard)).one()
        return card.points, sum(line.points for line in session.scalars(select(ScorecardLine)))


def test_a_sheet_comes_back_as_it_was_measured(kept):
    store, number = kept
    assert measured_sheet(store, number) == filmed()
    assert as_it_stands(store, number).sheet == filmed()


def test_an_outcome_is_corrected_and_the_drill_scored_anew(kept):
    store, number = kept
    before = kept_points(store)[0]
    # Putt 3 was missed through the gate: half a point; holed it gives one.
    after = correct(store, number, 3, "outcome", "holed", seen_version=0, **WHO)
    assert kept_points(store) == (before + 0.5, before + 0.5)
    assert after.cards[0].points == 100 * (before + 0.5)
    assert after.changed == (
        f"{after.cards[0].rules.title}: {before:g} points, now {before + 0.5:g} points; "
        "14 putts made, now 15 putts made; best streak 2, now best streak 5",
    )
    putt = after.putt(3)
    assert (putt.outcome, putt.rest, putt.confidence) == ("holed", None, None)
    assert putt.hole_offset_mm == Figure(9.0, 4.0)
    assert measured_sheet(store, number) == filmed()
    event = after.events[0]
    assert (event.who, event.putt, event.field, event.from_value, event.to_value) == (
        "Coach",
        3,
        "outcome",
        "missed",
        "holed",
    )


def test_undo_and_undo_of_undo(kept):
    store, number = kept
    before = as_it_stands(store, number)
    correct(store, number, 3, "outcome", "holed", seen_version=0, **WHO)
    undone = undo(store, number, seen_version=1, **WHO)
    assert undone.putts == before.putts
    assert [event.in_force for event in undone.events] == [False, True]
    assert undone.events[1].undoes == 1
    with pytest.raises(JournalError, match="no correction to undo"):
        undo(store, number, seen_version=2, **WHO)
    again = undo(store, number, seen_version=2, event=2, **WHO)
    assert again.putt(3).outcome == "holed"
    with pytest.raises(JournalError, match="undone already"):
        undo(store, number, seen_version=3, event=2, **WHO)


def test_not_a_putt_leaves_sheet_and_score(kept):
    store, number = kept
    after = correct(store, number, 2, "is_putt", False, seen_version=0, **WHO)
    assert [putt.number for putt in after.sheet.putts] == [1, *range(3, 21)]
    assert [putt.number for putt in after.removed] == [2]
    # The drill has 20 putts and waits for one now.
    assert (after.cards[0].state, after.cards[0].counted) == ("running", 19)
    assert kept_points(store)[0] == after.cards[0].points / 100
    back = correct(store, number, 2, "is_putt", True, seen_version=1, **WHO)
    assert back.sheet == filmed()


def test_a_missed_putt_is_put_in_by_its_time(kept):
    store, number = kept
    new = Putt(number=99, outcome="holed", gate_result="clear", start_s=Figure(45.0))
    after = add_putt(store, number, new, seen_version=0, **WHO)
    assert [putt.number for putt in after.putts][:6] == [1, 2, 3, 4, 21, 5]
    assert after.added == {21}
    assert [putt.number for putt in after.sheet.putts] == list(range(1, 22))
    assert after.sheet.putts[4] == replace(new, number=5)
    # 20 strokes make the drill: the last measured one counts no more.
    assert [line.putt for line in after.cards[0].lines] == [1, 2, 3, 4, 21, *range(5, 20)]
    with store.reading() as session:
        rows = session.scalars(select(ScorecardLine).order_by(ScorecardLine.id)).all()
        assert [row.putt for row in rows] == [1, 2, 3, 4, 21, *range(5, 20)]
    later = correct(store, number, 21, "outcome", "missed", seen_version=1, **WHO)
    assert later.putt(21).outcome == "missed"
    first = add_putt(store, number, Putt(number=1, outcome="missed"), seen_version=2, after=0, **WHO)
    assert [putt.number for putt in first.putts][:3] == [22, 1, 2]
    gone = undo(store, number, seen_version=3, event=1, **WHO)
    assert [putt.number for putt in gone.putts] == [22, *range(1, 21)]


def test_a_wrong_start_takes_what_was_read_off_it(kept):
    store, number = kept
    putt = correct(store, number, 5, "start", 49.5, seen_version=0, **WHO).putt(5)
    assert (putt.start_s, putt.start_direction_to_hole_deg) == (Figure(49.5), Figure())
    assert putt.hole_offset_mm == Figure(15.0, 4.0)
    assert putt.confidence == 0.9


def test_looked_at_takes_the_reasons_to_look(kept):
    store, number = kept
    after = correct(store, number, 4, "looked_at", True, seen_version=0, **WHO)
    assert (after.putt(4).review, after.looked_at) == ((), {4})
    with pytest.raises(JournalError, match="already"):
        correct(store, number, 4, "looked_at", True, seen_version=1, **WHO)


@pytest.mark.parametrize(
    ("putt", "field", "value", "says"),
    [
        (1, "outcome", "sunk", "one of holed, missed, unseen was due, got sunk"),
        (1, "outcome", "holed", "outcome is holed already"),
        (1, "lipped", 1, "one of True, False was due"),
        (1, "colour", "red", "cannot be corrected; what can be: outcome"),
        (77, "outcome", "holed", "has no putt 77"),
        (1, "start", -3, "a number or nothing was due, got -3"),
        (1, "run_out_m", float("nan"), "a number or nothing was due"),
        (1, "run_out_m", True, "a number or nothing was due"),
    ],
)
def test_what_cannot_be_corrected(kept, putt, field, value, says):
    store, number = kept
    with pytest.raises(JournalError, match=says):
        correct(store, number, putt, field, value, seen_version=0, **WHO)
    assert as_it_stands(store, number).version == 0


def test_unknown_session(kept):
    store, _ = kept
    with pytest.raises(JournalError, match="no session 99"):
        correct(store, 99, 1, "outcome", "holed", seen_version=0, **WHO)


def test_the_later_editor_of_the_same_putt_is_told(kept):
    store, number = kept
    correct(store, number, 3, "outcome", "holed", who="Ada", why="", seen_version=0)
    with pytest.raises(
        ConflictError, match=r"putt 3 was changed by Ada in the meantime \(outcome: missed to holed\)"
    ):
        correct(store, number, 3, "outcome", "unseen", who="Ben", why="", seen_version=0)
    with pytest.raises(ConflictError):
        undo(store, number, who="Ben", why="", seen_version=0, event=1)
    other = correct(store, number, 6, "outcome", "holed", who="Ben", why="", seen_version=0)
    assert (other.putt(3).outcome, other.putt(6).outcome, other.version) == ("holed", "holed", 2)
    add_putt(store, number, Putt(number=1, outcome="holed"), who="Ada", why="", seen_version=2)
    with pytest.raises(ConflictError, match="added"):
        add_putt(store, number, Putt(number=1, outcome="holed"), who="Ben", why="", seen_version=2)


def test_of_many_editors_at_once_one_wins_and_the_others_are_told(kept):
    store, number = kept

    def edit(who):
        try:
            correct(store, number, 3, "outcome", "holed", who=who, why="", seen_version=0)
        except ConflictError:
            return False
        return True

    with ThreadPoolExecutor(4) as pool:
        assert sorted(pool.map(edit, ["a", "b", "c", "d"])) == [False, False, False, True]
    assert as_it_stands(store, number).version == 1


def test_options_and_stake_are_in_force_when_scored_anew(journal):
    rules = with_options(catalogue.load(DRILL), Options(putts=10, strict=True))
    rules = replace(rules, stake="a round of coffee")
    add_player(journal, "Ines", consent=True)
    card = score(rules, filmed().putts)
    done = record(journal, "Ines", filmed(), day=DAY, card=card, rules_text=catalogue.text(DRILL))
    again = as_it_stands(journal, done.session).cards[0]
    assert again.to_json() == card.to_json()
    assert (again.rules.stake, again.counted) == ("a round of coffee", 10)


edits = st.lists(
    st.tuples(
        st.integers(1, 8),
        st.sampled_from(
            [
                ("outcome", "holed"),
                ("outcome", "missed"),
                ("outcome", "unseen"),
                ("gate_result", "outside"),
                ("gate_result", "touched"),
                ("is_putt", False),
                ("is_putt", True),
                ("add", "holed"),
                ("undo", None),
            ]
        ),
    ),
    max_size=12,
)


def step(store, number, putt, what, version):
    """Do one random thing; what cannot be done changes nothing."""
    field, value = what
    with suppress(JournalError):
        if field == "add":
            new = Putt(number=1, outcome=value, start_s=Figure(10.0 * putt + 5))
            return add_putt(store, number, new, seen_version=version, **WHO).version
        if field == "undo":
            return undo(store, number, seen_version=version, **WHO).version
        return correct(store, number, putt, field, value, seen_version=version, **WHO).version
    return version


@pytest.mark.slow
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=edits)
def test_any_corrections_leave_what_scoring_afresh_gives_and_undo_to_nothing(kept, steps):
    """The kept scorecard is at all times the engine's score of the putts as they stand."""
    store, _ = kept
    rules = with_options(catalogue.load("head-gate-streak"), Options(target=4))
    sheet = PuttSheet(putts=filmed(8).putts)
    card = score(rules, sheet.putts)
    text = catalogue.text("head-gate-streak")
    day = DAY + timedelta(days=next(DAYS))
    number = record(store, "Ines", sheet, day=day, card=card, rules_text=text).session
    version = 0
    for one in steps:
        version = step(store, number, *one, version)
    now = as_it_stands(store, number)
    with store.reading() as session:
        row = session.scalars(select(Scorecard).where(Scorecard.session_id == number)).one()
        data = score(rules, now.putts).to_json()
        for key in ("state", "counted", "restarts", "best_streak"):
            assert getattr(row, key) == data[key]
        assert [(line.putt, line.made, line.grip) for line in row.lines] == [
            (line["putt"], line["made"], line["grip"]) for line in data["lines"]
        ]
    while any(event.in_force and event.undoes is None for event in now.events):
        now = undo(store, number, seen_version=now.version, **WHO)
    assert now.sheet == sheet
    assert now.cards[0].to_json() == card.to_json()
