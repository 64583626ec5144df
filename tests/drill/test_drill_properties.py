"""What holds of every drill of the catalogue, whatever is putted."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from puttvision.drill.catalogue import load, names
from puttvision.drill.play import start, step
from puttvision.drill.scorecard import score
from puttvision.putts import NOT_MEASURED, Figure, Putt, Rest

figures = st.one_of(st.just(NOT_MEASURED), st.floats(-2, 2).map(lambda value: Figure(value, 0.05)))


@st.composite
def putts(draw, max_size=40):
    """A list of putts, many of them lacking this or that."""
    made_often = st.sampled_from(("holed", "holed", "holed", "missed", "unseen"))
    out = []
    for number in range(1, draw(st.integers(0, max_size)) + 1):
        along = draw(figures)
        out.append(
            Putt(
                number=number,
                outcome=draw(made_often),
                start_s=Figure(9.0 * number),
                gate_result=draw(st.sampled_from(("clear", "touched", "outside", "none"))),
                run_out_m=draw(figures),
                start_direction_to_hole_deg=draw(figures),
                hole_distance_m=Figure(3.0),
                rest=Rest(along_m=Figure(3 + along.value), right_m=Figure(0.1)) if along else None,
                lipped=draw(st.booleans()),
                miss_length=draw(st.sampled_from((None, "short", "long"))),
            )
        )
    return out


fast = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
drills = st.sampled_from(names())


@fast
@given(name=drills, played=putts())
def test_any_beginning_is_a_valid_state(name, played):
    """Scoring a beginning gives the beginning of the lines, and playing on from there the rest."""
    rules = load(name)
    whole = score(rules, played)
    half = score(rules, played[: len(played) // 2])
    assert whole.lines[: len(half.lines)] == half.lines
    assert whole.set_aside[: len(half.set_aside)] == half.set_aside
    position = half.position
    for putt in played[len(played) // 2 :]:
        position, _ = step(rules, position, putt)
    if not whole.time_is_up:
        assert position == whole.position


@fast
@given(
    name=drills, played=putts(), at=st.integers(0, 39), outcome=st.sampled_from(("holed", "missed", "unseen"))
)
def test_correcting_a_putt_is_scoring_it_right_the_first_time(name, played, at, outcome):
    rules = load(name)
    score(rules, played)  # the first, wrong, scoring leaves no trace
    corrected = [replace(putt, outcome=outcome) if i == at else putt for i, putt in enumerate(played)]
    again = score(rules, corrected).to_json()
    by_steps = start(rules)
    for putt in corrected:
        by_steps, _ = step(rules, by_steps, putt)
    assert score(rules, list(corrected)).to_json() == again
    if not (again["clock"] or {}).get("time_is_up"):
        assert by_steps.status == again["state"]


@fast
@given(name=drills, played=putts())
def test_counts_are_never_negative_and_add_up(name, played):
    rules = load(name)
    card = score(rules, played)
    out = card.to_json()
    for key in ("counted", "restarts", "streak", "best_streak"):
        assert out[key] >= 0
    assert 0 <= out["stage"]["made"] <= out["stage"]["tried"]
    assert 1 <= out["stage"]["number"] <= out["stage"]["of"]
    assert out["streak"] <= out["best_streak"] <= out["counted"]
    assert out["counted"] == len(out["lines"]) <= len(played)
    assert sum(line["restarted"] for line in out["lines"]) == out["restarts"]
    assert all(totals.made >= 0 and totals.tried >= totals.made for totals in card.totals)
    if rules.lowest_points is not None:
        assert card.points >= rules.lowest_points
    if out["points"] is not None and not rules.series and not out["restarts"]:
        assert out["points"] == pytest.approx(sum(line["points"] for line in out["lines"]))


@fast
@given(name=drills, played=putts(max_size=60), more=putts(max_size=5))
def test_finished_stays_finished(name, played, more):
    rules = load(name)
    card = score(rules, played)
    if card.state == "running":
        return
    later = [replace(putt, number=putt.number + 1000) for putt in more]
    assert score(rules, played + later).to_json() == card.to_json()
    for putt in later:
        position, result = step(rules, card.position, putt)
        assert position == card.position
        assert result.kind == "after the end"


@pytest.mark.parametrize("name", names())
def test_every_drill_can_be_finished(name):
    """A player who does everything as asked comes to the end."""
    rules = load(name)
    ideal = [
        Putt(
            number=number,
            outcome="missed" if rules.two_players and number % 2 == 0 else "holed",
            gate_result="clear",
            start_direction_to_hole_deg=Figure(0.0),
            run_out_m=Figure(0.3),
            start_s=Figure(10.0 * number),
        )
        for number in range(1, 200)
    ]
    card = score(rules, ideal)
    assert card.state == "finished"
    assert card.what_next.startswith("time is up" if card.time_is_up else ("finished", "first player"))
