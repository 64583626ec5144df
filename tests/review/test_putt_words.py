"""A putt in words: calls, reasons, gate and start line."""

import pytest

from puttvision.putts import Figure, Gate, Putt
from puttvision.review import putt_words

GATE = Gate(distance_m=Figure(0.45), width_mm=Figure(65.0), square_deg=Figure(0.0))


def putt(outcome="missed", **figures):
    plain = {"lipped", "review", "gate_result", "miss_side", "miss_length"}
    return Putt(number=1, outcome=outcome, **{k: v if k in plain else Figure(*v) for k, v in figures.items()})


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (putt("holed"), "Holed"),
        (putt("unseen"), "End not seen"),
        (putt(hole_offset_mm=(-70.0, 5.0)), "Missed left"),
        (putt(hole_offset_mm=(70.0, 5.0)), "Missed right"),
        (putt(hole_offset_mm=(40.0, 5.0), lipped=True), "Lipped out"),
        (putt(run_out_m=(-0.3, 0.01)), "Short"),
        (putt(miss_side="right", miss_length="long"), "Missed right and long"),
        (putt(), "Missed"),
    ],
)
def test_calls(given, said):
    assert putt_words.call(given) == said


def test_the_reason_of_a_holed_putt():
    # Penner 2002, Eq. 23: at 0.92 m/s the hole takes 54 sqrt(1 - 0.92/1.63) = 35.6 mm either side
    given = putt("holed", hole_offset_mm=(12.0, 5.0), speed_at_hole_m_s=(0.92, 0.05), run_out_m=(0.41, 0.06))
    assert putt_words.reason(given) == (
        "12 mm right of the middle at 0.92 m/s; the hole takes 36 mm either side at that pace; "
        "would have run 41 cm past"
    )


def test_reasons_of_misses():
    fast = putt(hole_offset_mm=(-1.0, 5.0), speed_at_hole_m_s=(1.9, 0.05), run_out_m=(2.35, 0.1))
    assert putt_words.reason(fast) == (
        "over the middle at 1.90 m/s; too fast for the hole to take; came to rest 2.4 m past"
    )
    assert putt_words.reason(putt(run_out_m=(-0.42, 0.02))) == "came to rest 42 cm short"
    assert putt_words.reason(putt("unseen", review=("a leg hid the hole",))) == "a leg hid the hole"


def test_room_at_the_gate_adds_up():
    # 65 mm between the posts less a ball of 42.67 mm leaves 22.33 mm for both sides
    left, right = putt_words.clearances_mm(putt(gate_result="clear", gate_offset_mm=(4.0, 1.0)), GATE)
    assert left + right == pytest.approx(22.33, abs=0.01)
    assert left - right == pytest.approx(8.0)
    assert putt_words.clearances_mm(putt(gate_result="outside"), GATE) is None
    assert putt_words.clearances_mm(putt(gate_offset_mm=(4.0, 1.0)), None) is None


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (
            putt(gate_result="clear", gate_offset_mm=(4.0, 1.0)),
            "through the gate, 7 mm inside the right post",
        ),
        (
            putt(gate_result="clear", gate_offset_mm=(-11.0, 1.0)),
            "through the gate, left post missed by a hair",
        ),
        (putt(gate_result="touched", gate_offset_mm=(-12.0, 1.0)), "touched the left post"),
        (putt(gate_result="touched"), "touched a post"),
        (putt(gate_result="outside"), "outside the gate"),
        (putt(gate_result="clear"), "through the gate"),
        (putt(), ""),
    ],
)
def test_gate_calls(given, said):
    assert putt_words.gate_call(given, GATE) == said


def test_the_gate_goes_before_the_hole():
    both = putt(start_direction_to_gate_deg=(0.61, 0.15), start_direction_to_hole_deg=(-0.84, 0.14))
    assert putt_words.start_line(both) == "0.61 ± 0.15° right of the gate"
    assert (
        putt_words.start_line(putt(start_direction_to_hole_deg=(-0.84, 0.14)))
        == "0.84 ± 0.14° left of the hole"
    )
    loose = putt(start_direction_to_gate_deg=(2.41, 1.02))
    assert putt_words.start_line(loose) == "2.4 ± 1.0° right of the gate"
    assert putt_words.start_line(putt()) == "the start line was not measured"


@pytest.mark.parametrize(
    ("mm", "said"), [(8.2, "8 mm"), (-99.4, "99 mm"), (99.6, "10 cm"), (420, "42 cm"), (2351, "2.4 m")]
)
def test_lengths_are_as_exact_as_matters(mm, said):
    assert putt_words.length(mm) == said
