"""A session measured again from the same clip, and scored by one more drill."""

from dataclasses import replace
from datetime import date

import pytest

from puttvision.drill import catalogue
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.scorecard import score
from puttvision.errors import ConflictError, JournalError
from puttvision.journal.again import measured_again, score_drill
from puttvision.journal.corrections import as_it_stands, correct
from puttvision.journal.people import add_player
from puttvision.journal.record import record
from puttvision.journal.store import opened
from puttvision.putts import ClipInfo, Figure, Gate, Putt, PuttSheet

CLIP = ClipInfo(file="monday.mp4", duration_s=20.0, frames=600, width=1280, height=720)
GATE = Gate(distance_m=Figure(0.45), width_mm=Figure(65.0), square_deg=Figure(1.0))
SHEET = PuttSheet(
    putts=tuple(
        Putt(number=i + 1, outcome=outcome, gate_result=gate, start_s=Figure(3.0 * i))
        for i, (outcome, gate) in enumerate(
            [("holed", "clear"), ("missed", "outside"), ("missed", "touched"), ("unseen", "clear")]
        )
    ),
    clip=CLIP,
    gate=GATE,
)


@pytest.fixture
def store(tmp_path):
    with opened(str(tmp_path / "journal.db")) as store:
        add_player(store, "Ines", consent=True)
        yield store


@pytest.fixture
def kept(store):
    return record(store, "Ines", SHEET, day=date(2026, 4, 30)).session


def test_a_drill_is_scored_from_the_putts_as_they_stand(store, kept):
    correct(store, kept, 4, "outcome", "holed", "coach", "saw it drop", 0)
    rules = with_options(catalogue.load("ball-gate-points"), Options(putts=10))
    assert score_drill(store, kept, rules, catalogue.text("ball-gate-points"))
    (card,) = as_it_stands(store, kept).cards
    # holed 1, outside 0, through the gate 0.5, holed 1: the drill's rules
    assert card.points == 250
    assert not score_drill(store, kept, rules, catalogue.text("ball-gate-points"))


def test_measuring_again_takes_the_place_of_the_old_putts(store, kept):
    rules = catalogue.load("ball-gate-points")
    score_drill(store, kept, rules, catalogue.text("ball-gate-points"))
    stands = correct(store, kept, 4, "outcome", "holed", "coach", "", 0)
    better = replace(SHEET, putts=(*SHEET.putts[:1], replace(SHEET.putts[1], outcome="holed")), gate=None)
    again = measured_again(store, kept, better, stands.version)
    assert again.putts == better.putts
    assert again.measured == better
    assert again.version == 0
    (card,) = again.cards
    assert card.points == score(rules, better.putts).points == 200


def test_a_correction_made_meanwhile_stops_it(store, kept):
    correct(store, kept, 2, "outcome", "holed", "Oluf", "", 0)
    with pytest.raises(ConflictError, match="Oluf"):
        measured_again(store, kept, replace(SHEET, putts=SHEET.putts[:1]), 0)
    assert len(as_it_stands(store, kept).putts) == 4
    assert as_it_stands(store, kept).version == 1


def test_putts_of_another_session_are_not_taken_twice(store, kept):
    other = replace(SHEET, putts=SHEET.putts[:2], clip=replace(CLIP, file="b.mp4", frames=10))
    record(store, "Ines", other, day=date(2026, 5, 1))
    with pytest.raises(JournalError, match="already"):
        measured_again(store, kept, other, 0)


def test_an_unknown_session_is_one_clear_line(store):
    with pytest.raises(JournalError, match="no session 77"):
        measured_again(store, 77, SHEET, 0)
    with pytest.raises(JournalError, match="no session 77"):
        score_drill(store, 77, catalogue.load("ball-gate-points"), "")
