"""The page at every size: what a scorer needs is there, whole, and large."""

import random
from dataclasses import replace

import pytest
from card_keys import NOON, play, rules

from puttvision.card import keys
from puttvision.card.card import new_card, press, scorecard
from puttvision.card.digits import big
from puttvision.card.keys import Press
from puttvision.card.page import help_pages, lay_out
from puttvision.card.screen import shows_blocks
from puttvision.card.view import help_text, look
from puttvision.drill.catalogue import load, names

BY_EYE = [name for name in names() if name != "start-line-points"]
PHONE = (40, 20)
SIZES = [PHONE, (80, 24), (120, 40)]


def views(name, seed=1, n=120):
    """What the page shows over one drill played by chance with the keys it offers."""
    chance = random.Random(seed)
    card = press(new_card(load(name)), Press(keys.OPENED, NOON))
    for number in range(n):
        at_s = NOON + 15 * number
        view = look(card, scorecard(card), at_s)
        yield view
        letters = [letter for letter, _ in view.legend if letter not in ("space", "?", "q", "u")]
        if card.over or not letters:
            return
        good = [letter for letter in letters if letter in "mg1"]
        letter = chance.choice(good) if good and chance.random() < 0.7 else chance.choice(letters)
        card = press(card, Press(keys.LETTERS[letter], at_s))


def rows_of(view, size, blocks=True):
    return ["".join(text for _, text in row) for row in lay_out(view, *size, blocks)]


def words_of(rows):
    return " ".join(" ".join(rows).split())


@pytest.mark.parametrize("name", BY_EYE)
def test_what_is_needed_is_whole_on_a_phone_and_up(name):
    for number, view in enumerate(views(name)):
        for size in SIZES if number % 10 == 0 else [PHONE]:
            rows = rows_of(view, size)
            assert len(rows) <= size[1]
            assert max(map(len, rows)) <= size[0]
            text = words_of(rows)
            due = [view.question, view.forfeit, view.stake]
            due.append("" if view.alone and view.question else view.next[1:])
            if not view.alone:
                due += [view.happened if not (view.ended and not view.bites) else "", view.clock]
            due += [f"{letter} {says}" for letter, says in view.legend if not view.alone or view.question]
            if not view.begins:
                due.append(view.caption)
            for words in due:
                assert words in text, (size, view, "\n".join(rows))
            if not view.begins:
                assert view.figure in text or sum("█" in row for row in rows) >= 3, "\n".join(rows)


@pytest.mark.parametrize("size", [(1, 1), (10, 4), (20, 6), (24, 10), (40, 8), (300, 100)], ids=str)
@pytest.mark.parametrize("blocks", [True, False], ids=["blocks", "letters"])
def test_any_window_gets_a_page(size, blocks):
    for name in ("nine-six-three", "race-to-ten", "narrowing-gate"):
        for view in views(name, n=20):
            rows = rows_of(view, size, blocks)
            assert len(rows) <= max(size[1], 4)
            assert blocks or "".join(rows).isascii()


def test_on_a_small_window_the_keys_that_answer_come_first():
    card = play(rules("ball-gate-points"), "m g x")
    asking, told = look(card, scorecard(card), card.at_s), play(rules("ball-gate-points"), "m g x o")
    assert "g through" in words_of(rows_of(asking, (40, 10)))
    assert "18 putts to go" in words_of(rows_of(look(told, scorecard(told), told.at_s), (40, 10)))


def test_eleven_of_twelve_stands_alone():
    """The coach's day: the screen shows 11 of 12 and nothing else."""
    card = play(rules("head-gate-streak", target=12), "m " * 11)
    view = look(card, scorecard(card), card.at_s + 1)
    assert view.alone
    assert words_of([row for row in rows_of(view, PHONE) if not set(row) <= set(" █▀▄")]) == "of 12"
    missed = play(rules("head-gate-streak", target=12), "m " * 11 + "x")
    view = look(missed, scorecard(missed), missed.at_s)
    assert view.happened == "putt 12 missed: back to none"


def test_two_misses_in_a_row_do_not_look_like_one():
    once, twice = (play(rules("three-lives"), text) for text in ("x", "x x"))
    pages = [rows_of(look(card, scorecard(card), 0.0), PHONE) for card in (once, twice)]
    assert pages[0] != pages[1]


def test_the_stake_bites_where_there_is_no_other_forfeit():
    streak = rules("nine-six-three")
    card = play(replace(streak, stake="coffee"), "m m x x")
    view = look(card, scorecard(card), card.at_s)
    assert (view.bites, view.forfeit) == (True, "coffee")
    assert (
        look(play(replace(streak, stake="coffee"), ""), scorecard(new_card(streak)), NOON).stake == "coffee"
    )


def test_a_finished_clock_drill_shows_its_time():
    card = play(rules("nine-six-three"), "m " * 9)
    view = look(card, scorecard(card), card.at_s)
    assert (view.figure, view.caption) == ("2:40", "under the mark of 20:00")
    slow = play(rules("nine-six-three"), "m " * 9, between_s=200.0)
    view = look(slow, scorecard(slow), slow.at_s)
    assert (view.figure, view.caption) == ("26:40", "over the mark of 20:00")


@pytest.mark.parametrize("width", [12, 40, 80])
def test_the_rules_page_holds_every_word(width):
    text = help_text(new_card(load("clock-round")))
    pages = help_pages(text, width, 20)
    assert all(len(page) <= 19 for page in pages)
    assert "".join(words_of(line for page in pages for line in page).split()) == "".join(
        " ".join(text).split()
    )
    assert "Eight tees in a circle" in " ".join(text)


@pytest.mark.parametrize("blocks", [True, False], ids=["blocks", "letters"])
def test_figures_grow_with_the_room(blocks):
    sizes = [(len(big("12", width, width // 2, blocks)[0])) for width in (6, 20, 40, 80)]
    assert sizes == sorted(sizes)
    assert sizes[-1] >= 4 * 7
    for width in range(1, 60):
        for height in range(1, 25):
            rows = big("10.5", width, height, blocks)
            assert rows == ["10.5"] or (len(rows) <= height and max(map(len, rows)) <= width)


@pytest.mark.parametrize(
    ("environment", "encoding", "shown"),
    [
        pytest.param({"LANG": "en_GB.UTF-8"}, "utf-8", True, id="UTF-8"),
        pytest.param({"LC_CTYPE": "UTF-8"}, "utf-8", True, id="as a Mac sends it"),
        pytest.param({"LANG": "C", "LC_CTYPE": "C.UTF-8"}, "utf-8", False, id="bare C, as Python mends it"),
        pytest.param({"LANG": "C.UTF-8"}, "utf-8", True, id="C.UTF-8"),
        pytest.param({"LC_ALL": "C", "LANG": "en_GB.UTF-8"}, "utf-8", False, id="LC_ALL goes before"),
        pytest.param({}, "utf-8", False, id="nothing said"),
        pytest.param({"LANG": "en_GB.UTF-8"}, "latin-1", False, id="another encoding"),
    ],
)
def test_blocks_only_where_the_locale_names_utf8(environment, encoding, shown):
    assert shows_blocks(environment, encoding) is shown
