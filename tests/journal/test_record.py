"""Keeping sessions: every figure goes in, nothing twice, nothing half, and forgetting is for good."""

from dataclasses import replace
from datetime import date

import pytest
from sqlalchemy import select

from puttvision.drill import catalogue
from puttvision.drill.scorecard import score
from puttvision.errors import JournalError
from puttvision.journal.people import add_player, give_consent, list_players
from puttvision.journal.record import record
from puttvision.journal.rows import FIGURES
from puttvision.journal.tables import PuttRow, RulesText, Scorecard, ScorecardLine, Session
from puttvision.putts import ClipInfo, Figure, Gate, Green, Putt, PuttSheet, Rest

DAY = date(2026, 5, 4)
DRILL = "ball-gate-points"


@pytest.fixture
def store(journal):
    add_player(journal, "Ines", consent=True)
    return journal


def by_hand(n=20):
    putts = (
        Putt(number=k, outcome="holed" if k % 3 else "missed", gate_result="clear") for k in range(1, n + 1)
    )
    return PuttSheet(putts=tuple(putts))


def filmed():
    figures = {key: Figure(0.5 + place, 0.01 * (1 + place)) for place, key in enumerate(FIGURES)}
    rest = Rest(along_m=Figure(3.5, 0.02), right_m=Figure(-0.1, 0.03))
    first = Putt(
        number=1,
        outcome="missed",
        gate_result="touched",
        lipped=True,
        rest=rest,
        confidence=0.9,
        review=("look",),
        **figures,
    )
    return PuttSheet(
        putts=(first, Putt(number=2, outcome="unseen")),
        clip=ClipInfo(file="a.mp4", duration_s=60.5, frames=3600, width=1920, height=1080),
        green=Green(sheets=(0,), reprojection_rms_px=0.2, hole_px=None, stimp_ft=Figure(9.6, 0.4)),
        gate=Gate(distance_m=Figure(0.45, 0.004), width_mm=Figure(65.0, 3.0), square_deg=Figure(1.2, 0.6)),
    )


def test_every_figure_is_kept_with_its_u95(store):
    record(store, "Ines", filmed(), day=DAY)
    with store.reading() as session:
        row = session.scalars(select(PuttRow).where(PuttRow.number == 1)).one()
        for place, key in enumerate(FIGURES):
            assert (getattr(row, key), getattr(row, f"{key}_u95")) == (0.5 + place, 0.01 * (1 + place))
        assert (row.rest_along_m, row.rest_right_m, row.rest_right_m_u95) == (3.5, -0.1, 0.03)
        assert (row.outcome, row.gate_result, row.lipped, row.review) == ("missed", "touched", True, ["look"])
        kept = session.scalars(select(Session)).one()
        assert (kept.stimp_ft, kept.gate_width_mm, kept.gate_square_deg_u95) == (9.6, 65.0, 0.6)


def test_scorecard_with_the_rules_in_force(store):
    rules = catalogue.load(DRILL)
    card = score(rules, by_hand().putts)
    record(store, "Ines", by_hand(), day=DAY, card=card, rules_text=catalogue.text(DRILL))
    with store.reading() as session:
        kept = session.scalars(select(Scorecard)).one()
        # 20 putts: 3, 6, ... 18 missed but through the gate: 14 + 6 * 0.5 by the drill's rules.
        assert (kept.points, kept.made, kept.counted, kept.state) == (17.0, 14, 20, "finished")
        assert session.get(RulesText, kept.rules_id).text == catalogue.text(DRILL)
        lines = session.scalars(select(ScorecardLine).order_by(ScorecardLine.putt)).all()
        assert [line.points for line in lines][:3] == [1.0, 1.0, 0.5]
        assert lines[0].distance_m == pytest.approx(3.048)


def test_same_putts_are_not_doubled_and_a_second_drill_is_added(store):
    sheet = by_hand()
    card = score(catalogue.load(DRILL), sheet.putts)
    assert record(store, "Ines", sheet, day=DAY).new_session
    again = record(store, "Ines", sheet, day=DAY, card=card, rules_text=catalogue.text(DRILL))
    assert (again.new_session, again.new_scorecard) == (False, True)
    third = record(store, "Ines", sheet, day=DAY, card=card, rules_text=catalogue.text(DRILL))
    assert (third.new_session, third.new_scorecard) == (False, False)
    assert record(store, "Ines", sheet, day=date(2026, 5, 11)).new_session
    assert (list_players(store)[0].n_sessions, list_players(store)[0].n_putts) == (2, 40)


def test_same_clip_measured_anew_or_renamed_is_known(store, tmp_path):
    clip = tmp_path / "a.mp4"
    clip.write_bytes(b"some film")
    assert record(store, "Ines", filmed(), day=DAY, clip=clip).new_session
    changed = replace(filmed(), putts=(Putt(number=1, outcome="holed"),))
    assert not record(store, "Ines", changed, day=DAY).new_session
    other_name = replace(changed, clip=replace(changed.clip, file="b.mp4"))
    renamed = clip.rename(tmp_path / "b.mp4")
    assert not record(store, "Ines", other_name, day=DAY, clip=renamed).new_session
    renamed.write_bytes(b"another film")
    assert record(store, "Ines", other_name, day=DAY, clip=renamed).new_session


def test_filming_needs_consent_and_hand_scores_do_not(store):
    add_player(store, "Oluf", hand="left")
    record(store, "Oluf", by_hand(), day=DAY)
    with pytest.raises(JournalError, match="no consent to film Oluf"):
        record(store, "Oluf", filmed(), day=DAY)
    give_consent(store, "Oluf")
    assert record(store, "Oluf", filmed(), day=DAY).new_session


def test_unknown_player_is_told_the_nearest_name(store):
    with pytest.raises(JournalError, match='did you mean "Ines"'):
        record(store, "Inez", by_hand(), day=DAY)


def test_an_error_keeps_nothing(store):
    twice = by_hand(3)
    object.__setattr__(twice, "putts", (*twice.putts, twice.putts[0]))
    with pytest.raises(Exception, match=r"(?i)unique"):
        record(store, "Ines", twice, day=DAY)
    assert list_players(store)[0].n_sessions == 0
