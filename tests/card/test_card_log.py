"""The card on disk: nothing lost, nothing shown before it is there, one window at a time."""

import errno
import json
import os
import threading
import time
from dataclasses import replace

import pytest
from card_keys import NOON, rules

from puttvision.card import log
from puttvision.card.card import replay, scorecard
from puttvision.card.keys import CLOSED, OPENED, SLEPT, TIME_UP
from puttvision.card.log import Header
from puttvision.card.session import Session, rules_of
from puttvision.drill import catalogue
from puttvision.drill.rules import Options
from puttvision.drill.scorecard import score
from puttvision.errors import CardError
from puttvision.putts import load


class Watch:
    """A clock that goes when told to."""

    def __init__(self):
        self.at_s = NOON

    def __call__(self):
        return self.at_s


def header(drill="nine-six-three", **options):
    return Header(
        drill=drill, rules=catalogue.text(drill), options=Options(**options), stake=None,
        began="2026-04-30T08:40:00+02:00",
    )  # fmt: skip


def begun(folder, drill="nine-six-three", text="", **options):
    """A session in ``folder`` after these keys, 20 s apart; and its watch."""
    watch = Watch()
    session = Session.begin(folder, header(drill, **options), now=watch)
    press(session, watch, text)
    return session, watch


def press(session, watch, text):
    words = {"m": "made", "x": "missed", "u": "undo", "_": "clock", "g": "through", "o": "outside"}
    for letter in text.split():
        for _ in range(20):
            watch.at_s += 1
            session.tick()
        session.key(words[letter])


def keys_on_disk(folder):
    lines = (folder / log.LOG_FILE).read_text().splitlines()[1:]
    return [json.loads(line)["key"] for line in lines]


def test_a_key_is_on_disk_before_the_card_knows_it(tmp_path, monkeypatch):
    session, _ = begun(tmp_path, text="m")
    seen = []

    def sync(handle):
        os_fsync(handle)
        seen.append((keys_on_disk(tmp_path)[-1], len(session.card.told), session.view().figure))

    os_fsync = os.fsync
    monkeypatch.setattr(os, "fsync", sync)
    session.key("made")
    assert seen == [("made", 1, "1")]
    assert session.view().figure == "0"  # two at 9 ft are made: stage 2 begins
    assert len(session.card.told) == 2


def test_what_the_disk_refuses_is_said_and_not_counted(tmp_path, monkeypatch):
    session, _ = begun(tmp_path, text="m")

    def full(_handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        with pytest.raises(CardError, match="No space left on device; the last key is lost"):
            session.key("made")
    assert len(session.card.told) == 1
    assert session.view().figure == "1"


def test_results_are_current_after_every_putt(tmp_path):
    session, watch = begun(tmp_path)
    for number, letter in enumerate("m m x m m", start=1):
        if letter != " ":
            press(session, watch, letter)
        sheet = load(tmp_path / "putts.json")
        card = json.loads((tmp_path / "scorecard.json").read_text())
        assert card == score(rules("nine-six-three"), sheet.putts).to_json()
        assert card["counted"] == (number + 1) // 2


@pytest.mark.parametrize("cut", range(1, 46))
def test_a_line_that_broke_off_is_left_out(tmp_path, cut):
    session, _ = begun(tmp_path, text="m x m")
    session._log.close()  # as kill -9 does: no closing line
    path = tmp_path / log.LOG_FILE
    whole = path.read_bytes()
    last = whole.rstrip(b"\n").rfind(b"\n") + 1
    path.write_bytes(whole[: max(len(whole) - cut, last)])
    _, presses = log.read(tmp_path)
    assert [one.key for one in presses] == ["opened", "made", "missed"]
    again = Session.resume(tmp_path, now=Watch())
    again.key("missed")
    again.close()
    assert keys_on_disk(tmp_path) == ["opened", "made", "missed", OPENED, "missed", CLOSED]


def test_going_on_gives_the_card_as_it_stood(tmp_path):
    session, watch = begun(tmp_path, "ball-gate-points", "m g x o m o u", putts=12, strict=True)
    before, hand = session.scored.to_json(), session.card.hand
    session.close()
    watch.at_s += 5000
    again = Session.resume(tmp_path, now=watch)
    assert again.card.hand == hand
    assert again.scored.to_json() == before
    assert again.card.rules.options == Options(putts=12, strict=True)
    assert "Opened again after 1:23:20; 2 putts" in again.note


def test_a_card_is_finished_by_the_rules_it_was_begun_with(tmp_path):
    text = catalogue.text("head-gate-streak").replace("make = 50", "make = 2")
    card_header = header("head-gate-streak")
    session = Session.begin(tmp_path, replace(card_header, rules=text), now=Watch())
    session.close()
    again = Session.resume(tmp_path, now=Watch())
    again.key("made")
    again.key("made")
    assert again.scored.state == "finished"


@pytest.mark.parametrize(
    ("line", "text", "words"),
    [
        pytest.param(2, '{"at": 1, "key": "mad"}', "line 3 is damaged", id="no such key"),
        pytest.param(2, '{"at": NaN, "key": "made"}', "line 3 is damaged", id="no instant"),
        pytest.param(2, "\x00\x00\x00", "line 3 is damaged", id="zeros"),
        pytest.param(2, '"made"', "line 3 is damaged", id="no object"),
        pytest.param(0, '{"format": "puttvision-card/9"}', "no card of this program", id="another format"),
        pytest.param(0, '{"format": "puttvision-card/1"}', "line 1 is damaged", id="half a header"),
    ],
)
def test_damage_in_the_middle_is_named(tmp_path, line, text, words):
    session, _ = begun(tmp_path, text="m x m")
    session.close()
    path = tmp_path / log.LOG_FILE
    lines = path.read_text().splitlines()
    lines[line] = text
    path.write_text("\n".join(lines) + "\n")
    with pytest.raises(CardError, match=words):
        Session.resume(tmp_path)
    assert path.read_text() == "\n".join(lines) + "\n"


@pytest.mark.parametrize("name", [log.LOG_FILE, "putts.json", "scorecard.json"])
def test_nothing_is_written_over(tmp_path, name):
    (tmp_path / name).write_text("mine")
    with pytest.raises(CardError, match=r"holds .* already"):
        Session.begin(tmp_path, header())
    assert {p.name: p.read_text() for p in tmp_path.iterdir()} == {name: "mine"}


def test_a_second_window_is_refused(tmp_path):
    session, watch = begun(tmp_path, text="m")
    before = (tmp_path / log.LOG_FILE).read_bytes()
    with pytest.raises(CardError, match="open in another window"):
        Session.resume(tmp_path, now=watch)
    assert (tmp_path / log.LOG_FILE).read_bytes() == before
    session.close()
    Session.resume(tmp_path, now=watch).close()


def test_a_window_that_answers_hands_the_card_over(tmp_path):
    session, watch = begun(tmp_path, text="m m")

    def first_window():
        for _ in range(200):
            if session.asked_to_hand_over():
                session.close()
                return
            time.sleep(0.01)

    thread = threading.Thread(target=first_window)
    thread.start()
    again = Session.resume(tmp_path, take_over=True, now=watch)
    thread.join()
    assert len(again.card.hand.laid) == 2
    assert not again.asked_to_hand_over()
    again.close()


def test_a_window_that_does_not_answer_keeps_the_card(tmp_path, monkeypatch):
    monkeypatch.setattr(log, "_HAND_OVER_WAIT_S", 0.1)
    session, watch = begun(tmp_path, text="m")
    with pytest.raises(CardError, match="does not answer"):
        Session.resume(tmp_path, take_over=True, now=watch)
    assert not session.asked_to_hand_over()
    session.close()


def test_a_closed_lid_stops_the_clock(tmp_path):
    session, watch = begun(tmp_path, text="m m")
    shown = session.card.clock_s(watch.at_s)
    watch.at_s += 3600  # nobody looked: the computer slept
    session.key("made")
    assert keys_on_disk(tmp_path)[-2:] == [SLEPT, "made"]
    assert session.card.clock_s(watch.at_s) == pytest.approx(shown)
    assert session.note == "The clock goes on"


def test_the_limit_is_noted_while_nobody_types(tmp_path):
    session, watch = begun(tmp_path, "five-minutes", "m m m")
    for _ in range(300):
        watch.at_s += 1
        session.tick()
    assert keys_on_disk(tmp_path)[-1] == TIME_UP
    assert json.loads((tmp_path / "scorecard.json").read_text())["state"] == "finished"
    assert session.view().clock == "time is up"
    assert session.bell


def test_a_clock_set_back_does_no_harm(tmp_path):
    session, watch = begun(tmp_path, text="m m")
    watch.at_s -= 7200
    session.key("missed")
    session.close()
    card = replay(rules("nine-six-three"), log.read(tmp_path)[1])
    assert scorecard(card).time_s == pytest.approx(20.0)


def test_stake_named_for_this_card():
    named = replace(header("hole-by-hole"), stake="two sleeves of balls")
    assert rules_of(named, "").stake == "two sleeves of balls"
    assert rules_of(header("hole-by-hole"), "").stake == "the loser buys the coffee"


def test_cards_as_they_come_have_folders_of_their_own(tmp_path):
    first = log.new_folder(tmp_path, "nine-six-three")
    begun(first, text="m")[0].close()
    second = log.new_folder(tmp_path, "nine-six-three")
    assert second != first
    session, watch = begun(second)
    watch.at_s += 100
    session.key("made")
    session.close()
    assert log.latest(tmp_path, None) == second
    assert log.latest(tmp_path, "nine-six-three") == second
    with pytest.raises(CardError, match="no card of lag-zone"):
        log.latest(tmp_path, "lag-zone")


def test_the_bell_rings_when_the_forfeit_bites_and_at_the_end(tmp_path):
    session, watch = begun(tmp_path, "must-make-finish", "m m m m m m m m m m")
    assert not session.bell
    press(session, watch, "x")
    assert session.bell
    view = session.view()
    assert view.bites
    assert view.forfeit == "once round the green with the bag"
    assert view.happened == "putt 11 missed: back to the beginning"
    press(session, watch, "u m")
    assert session.bell
    assert session.view().finished
