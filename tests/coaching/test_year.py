"""A year of an invented player, through the journal to progress, next and ladder, as a coach runs them."""

import re
from dataclasses import replace
from datetime import date

import pypdfium2
import pytest
from typer.testing import CliRunner

from puttvision.cli.app import app
from puttvision.coaching.attempts import Attempt
from puttvision.coaching.ladder import head_to_head, ladder
from puttvision.coaching.next_drills import advise
from puttvision.coaching.results import result_lines
from puttvision.journal.groups import add_group
from puttvision.journal.history import CardFacts, CardOf, cards_of
from puttvision.journal.people import add_player
from puttvision.journal.store import opened
from puttvision.putts import Putt
from sample_media.year import make_year


@pytest.fixture(scope="module")
def year(tmp_path_factory):
    store = tmp_path_factory.mktemp("year") / "year.db"
    make_year(str(store), "Ines", seed=7, weeks=20)
    with opened(str(store)) as journal:
        add_player(journal, "Oluf", consent=False)
        add_group(journal, "Youth", ["Ines", "Oluf"])
    return str(store)


def run(*args):
    found = CliRunner().invoke(app, list(args))
    assert found.exit_code == 0, found.output
    return found.output


def test_progress_claims_no_trend_where_the_interval_holds_zero(year):
    told = run("progress", "Ines", "--drill", "ball-gate-points", "--store", year)
    assert "400 putts in 20 sessions of ball-gate-points" in told
    intervals = re.findall(r"(no trend|trend): \S+ \((\S+) to (\S+)\)", told)
    assert len(intervals) == 8  # the points and seven figures
    for word, low, high in intervals:
        if word == "trend":
            assert float(low) > 0 or float(high) < 0
        else:
            assert float(low) <= 0 <= float(high)
    assert "misses of this session" in told


def test_a_window_of_pace_is_chosen(year):
    told = run("progress", "Ines", "--window", "10", "60", "--store", year)
    assert "pace 10 to 60 cm past: " in told
    wrong = CliRunner().invoke(app, ["progress", "Ines", "--window", "60", "10", "--store", year])
    assert wrong.exit_code == 2


def test_putts_told_apart(year):
    told = run("progress", "Ines", "--by", "distance", "--by", "time", "--by", "grip", "--store", year)
    for part in (
        "3 ft: ",
        "6 ft: ",
        "9 ft: ",
        "10 ft: 400 putts",
        "first third: ",
        "both hands: ",
        "spread 0.",
    ):
        assert part in told


@pytest.mark.slow
def test_progress_page_stands_alone(year, tmp_path):
    page = tmp_path / "page.html"
    run("progress", "Ines", "--drill", "ball-gate-points", "--page", str(page), "--store", year)
    text = page.read_text(encoding="utf-8")
    assert text.count("<svg") >= 14  # light and dark
    assert not re.search(r'(src|href)="https?:', text)
    for source in ("Broadie 2018", "Berry 1995", "Gelman 2019", "Broadie 2014", "no norm for a pupil"):
        assert source in text


def test_next_names_drill_target_and_figure(year):
    told = run("next", "Ines", "--store", year)
    assert "1. " in told
    assert "2. " in told
    assert "start-line spread 0." in told
    assert "ball-gate-points" in told
    assert "putted from 10 ft through a ball gate 65 mm wide" in told
    assert re.search(r"[Ss]et the gate \d+(, then \d+, then \d+)? mm wide: .* within 10 minutes", told)


def test_next_fits_every_setting_into_the_time(year):
    told = run("next", "Ines", "--minutes", "8", "--store", year)
    seconds = float(re.search(r"(\d+) s a putt", told)[1])
    found = re.findall(r"^   (?:Set|Or) .*?(\d+) putts[:)]", told, re.MULTILINE)
    assert len(found) >= 2
    for n in found:
        assert int(n) * seconds <= 4 * 60 + seconds


def test_progress_follows_the_result_of_the_drill(year):
    told = run("progress", "Ines", "--drill", "ball-gate-points", "--store", year)
    with opened(year) as journal:
        points = [one.card.points for one in cards_of(journal, ["Ines"], "ball-gate-points")]
    assert re.search(
        rf"\npoints: {points[-1]:g} \(2025-05-18\)(, in [^\n]+)?\n    the last: {points[-2]:g}, ", told
    )
    assert f"    the best of 20: {max(points):g} (" in told
    sent_back = run("progress", "Ines", "--drill", "nine-six-three", "--store", year)
    assert "\nputts to finish: " in sent_back
    assert "putts from 3, 6 and 9 ft are taken together" in sent_back
    assert "streaks: not told, each session has putts from several distances" in sent_back


def test_a_result_is_no_change_within_the_scatter_of_the_others():
    steady = [card("a", day, points) for day, points in enumerate((10, 12, 11, 9, 12, 10, 11, 12), 1)]
    assert "the last: 11, +1.0 (" in "\n".join(result_lines(steady))
    assert "within what chance does" in result_lines(steady)[1]
    assert "a real change" in result_lines([*steady, card("a", 9, 19)])[1]
    assert "too few sessions to say" in result_lines(steady[:3])[1]
    assert result_lines(steady[:1]) == ["points: 10 (2026-05-01)"]
    assert result_lines([]) == []
    first = steady[0]
    timed = first._replace(card=replace(first.card, points=None, time_s=1060.0, counted=21))
    assert result_lines([timed]) == ["putts to finish: 21 (2026-05-01), in 17 min 40 s"]


def test_next_from_hand_scores_fits_the_make_rate():
    day = date(2026, 5, 3)
    by_hand = [
        Attempt(session=1, day=day, asked_m=feet * 0.3048, putt=Putt(number=i, outcome=outcome))
        for i, (feet, outcome) in enumerate([(3, "holed"), (6, "missed"), (6, "holed"), (3, "holed")] * 8, 1)
    ]
    found = advise(by_hand)
    assert found.choices
    assert "holed 75 % (58 to 87) of 32 putts" in found.choices[0].rests_on


def test_next_says_what_to_record_first(year):
    told = run("next", "Oluf", "--store", year)
    assert "too little to go by: 0 putts" in told
    assert "record first: ball-gate-points" in told


def ladder_of(year, *words):
    return run("ladder", "Youth", "--drill", "ball-gate-points", *words, "--store", year)


@pytest.mark.parametrize("ending", ["html", "pdf"])
def test_ladder_page_with_codes_holds_no_name_and_keeps_its_codes(year, tmp_path, ending):
    page = tmp_path / f"board.{ending}"
    told = ladder_of(year, "--page", str(page), "--codes")
    assert "Ines" in told
    code = re.search(r"codes: .*?(\w+) Ines", told)[1]
    if ending == "html":
        text = page.read_text(encoding="utf-8")
    else:
        pdf = pypdfium2.PdfDocument(page)
        assert len(pdf) == 1
        text = pdf[0].get_textpage().get_text_range()
    assert "Ines" not in text
    assert code in text
    assert "points" in text
    assert f"{code} Ines" in ladder_of(year, "--page", str(tmp_path / "later.pdf"), "--codes")


def test_ladder_page_by_mean_has_the_intervals(year, tmp_path):
    page = tmp_path / "board.html"
    told = ladder_of(year, "--by", "mean", "--page", str(page))
    mean = re.search(r"1  Ines .* (\d+\.\d \(\d+\.\d to \d+\.\d\))", told)[1]
    assert f"<td>{mean}</td>" in page.read_text(encoding="utf-8")


def test_ladder_page_without_codes_has_names(year, tmp_path):
    ladder_of(year, "--page", str(tmp_path / "board.pdf"), "--paper", "letter")
    pdf = pypdfium2.PdfDocument(tmp_path / "board.pdf")
    assert "Ines" in pdf[0].get_textpage().get_text_range()
    assert pdf[0].get_size() == pytest.approx((612, 792), abs=0.1)


def test_ladder_page_of_another_kind_is_refused(year, tmp_path):
    page = tmp_path / "board.docx"
    words = ["ladder", "Youth", "--drill", "ball-gate-points", "--page", str(page), "--store", year]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 2
    assert ".pdf or .html" in done.output
    assert not page.exists()


def card(player, day, points):
    facts = CardFacts(
        id=1, drill="d", title="D", options={}, state="finished", counted=20, made=1, points=points,
        restarts=0, best_streak=1, time_s=None, stake=None,
    )  # fmt: skip
    return CardOf(player, date(2026, 5, day), day, facts)


def test_ladder_ranks_the_best_of_the_last_and_leaves_out_who_played_too_little():
    cards = [card("a", 1, 19), *(card("a", day, 10) for day in (2, 3)), card("b", 2, 12), card("b", 3, 11),
             card("c", 3, 20)]  # fmt: skip
    found = ladder(cards, ["a", "b", "c"], last=2)
    assert [(one.place, one.player, one.result) for one in found] == [
        (1, "b", 12),
        (2, "a", 10),
        (None, "c", None),
    ]


def test_equal_results_share_a_place():
    found = ladder([card("a", 1, 9), card("b", 1, 9), card("c", 1, 8)], ["a", "b", "c"], last=1)
    assert [one.place for one in found] == [1, 1, 3]


def test_head_to_head_counts_days_both_played():
    cards = [card("a", 1, 9), card("b", 1, 8), card("a", 2, 9), card("b", 2, 9), card("b", 3, 20)]
    assert head_to_head(cards, "a", "b") == (1, 0, 1)


def test_a_season_and_head_to_head_of_a_group(tmp_path):
    store = str(tmp_path / "season.db")
    make_year(store, "Ines", seed=7, weeks=8)
    make_year(store, "Oluf", seed=8, weeks=6)
    with opened(store) as journal:
        add_group(journal, "Youth", ["Ines", "Oluf"])
        cards = cards_of(journal, ["Ines", "Oluf"], "ball-gate-points")
    points = {(one.player, one.day): one.card.points for one in cards}
    days = sorted({day for name, day in points if name == "Oluf"})
    won = sum(points["Ines", day] > points["Oluf", day] for day in days)
    lost = sum(points["Ines", day] < points["Oluf", day] for day in days)
    told = ladder_of(store, "--against", "Ines,Oluf")
    assert f"Ines against Oluf, on days both played: {won} to {lost}, {len(days) - won - lost} level" in told
    season = ladder_of(store, "--since", "2025-01-12", "--until", "2025-02-02", "--last", "4")
    assert "2025-01-12 to 2025-02-02" in season
    for name in ("Ines", "Oluf"):
        best = max(points[name, day] for day in days[1:5])
        assert re.search(rf"\d  {name} +{best:g} +4 ", season), season
    stranger = ["ladder", "Youth", "--drill", "ball-gate-points", "--against", "Ines,Maren", "--store", store]
    wrong = CliRunner().invoke(app, stranger)
    assert wrong.exit_code == 2
    assert "two players of Youth were due" in wrong.output


def test_next_says_where_the_misses_come_from_and_what_distance_to_take(year):
    told = run("next", "Ines", "--minutes", "30", "--store", year)
    parts = re.search(
        r"drills for (the start line|pace) come first: from 10 ft (\d+) of 100 putts would miss: "
        r"(\d+) by start line, (\d+) by pace, (\d+) by read",
        told,
    )
    missed, line, pace, read = map(int, parts.groups()[1:])
    assert line + pace + read == missed
    assert (parts[1] == "pace") == (pace > line)
    assert re.search(r"keep the drill's own target and putt from [\d.]+ ft: reached within 10 minutes", told)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["progress", "Oluf", "--page", "{page}"], "no putts of Oluf are kept yet"),
        (["progress", "Ines", "--drill", "race-to-ten"], "no putts of Ines in race-to-ten are kept yet"),
        (["ladder", "Youth", "--drill", "race-to-ten", "--page", "{page}"], "nobody in Youth has a result"),
    ],
)
def test_where_nothing_is_kept_it_is_one_line_and_no_page(year, tmp_path, words, said):
    page = tmp_path / "page.html"
    filled = [word.format(page=page) for word in words]
    done = CliRunner().invoke(app, [*filled, "--store", year])
    assert done.exit_code == 1
    assert str(done.exception).startswith(said)
    assert "\n" not in str(done.exception)
    assert not page.exists()
