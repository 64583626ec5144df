"""How big and how quick a well-used journal is: 200 players, 5,000 sessions, 200,000 putts.

    python tests/speed/journal_size.py [--store FILE|URL]

Fills a store in two steps (10 %, then all of it), and after each prints its size and how long
looking up takes: the library's own questions, and whole commands (`puttvision progress`, `next`)
as a coach waits for them, start of Python included. The putts come from the engine itself: each
session is a scored drill with the figures a clip gives, drawn from a seeded generator.
"""

from __future__ import annotations

import argparse
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from sqlalchemy import text

from puttvision.drill import catalogue
from puttvision.drill.options import with_options
from puttvision.drill.rules import Options
from puttvision.drill.scorecard import score
from puttvision.journal.history import cards_of, putts_of, sessions_of
from puttvision.journal.people import add_player, list_players
from puttvision.journal.record import keep_in
from puttvision.journal.store import opened
from puttvision.putts import ClipInfo, Figure, Gate, Green, Putt, PuttSheet, Rest

PLAYERS, SESSIONS, PUTTS = 200, 5_000, 40
DRILL = "ball-gate-points"
COMMANDS = (("sessions", "list"), ("progress",), ("next",))


def name(player: int) -> str:
    return f"code {player:03d}"


def sheet(session: int, chance: np.random.Generator) -> PuttSheet:
    """The putts of one clip, each with every figure a clip gives."""
    start_deg = chance.normal(0.2, 1.0, PUTTS)
    pace_m = chance.normal(0.4, 0.35, PUTTS)
    putts = []
    for k in range(PUTTS):
        offset_mm = 3050 * np.sin(np.radians(start_deg[k]))
        holed = abs(offset_mm) < 45 and pace_m[k] > 0
        through = abs(start_deg[k]) < 1.5

        def figure(value: float, u95: float) -> Figure:
            return Figure(round(float(value), 4), round(float(u95 * chance.uniform(0.8, 1.2)), 4))

        rest = None if holed else Rest(along_m=figure(3.05 + pace_m[k], 0.02), right_m=figure(0.01, 0.02))
        putts.append(
            Putt(
                number=k + 1,
                outcome="holed" if holed else "missed",
                gate_result="clear" if through else "outside",
                start_s=figure(12.0 * k + 4, 0.01),
                hole_distance_m=figure(3.05, 0.01),
                start_direction_to_hole_deg=figure(start_deg[k], 0.14),
                start_direction_to_gate_deg=figure(start_deg[k] - 0.1, 0.15),
                launch_speed_m_s=figure(2.0 + 0.3 * pace_m[k], 0.02),
                gate_offset_mm=figure(450 * np.sin(np.radians(start_deg[k])), 1.4),
                hole_offset_mm=figure(offset_mm, 5.0),
                speed_at_hole_m_s=figure(0.9, 0.05),
                run_out_m=figure(pace_m[k], 0.06),
                rest=rest,
                confidence=0.98,
            )
        )
    return PuttSheet(
        putts=tuple(putts),
        clip=ClipInfo(
            file=f"IMG_{session:05d}.mp4", duration_s=500.0, frames=30_000, width=1920, height=1080
        ),
        green=Green(
            sheets=(0, 3), reprojection_rms_px=0.2, hole_px=(1312.4, 655.0), stimp_ft=Figure(9.6, 0.4)
        ),
        gate=Gate(distance_m=Figure(0.45, 0.004), width_mm=Figure(65.0, 3.0), square_deg=Figure(1.2, 0.6)),
    )


def fill(where: str, first: int, last: int) -> float:
    """Keep sessions ``first`` to ``last``, a hundred in a transaction; how long that took, seconds."""
    rules, rules_text = with_options(catalogue.load(DRILL), Options(putts=PUTTS)), catalogue.text(DRILL)
    chance = np.random.default_rng(first)
    began = time.perf_counter()
    with opened(where) as store:
        for block in range(first, last, 100):
            with store.writing() as session:
                for number in range(block, min(block + 100, last)):
                    putts = sheet(number, chance)
                    card = score(rules, putts.putts)
                    day = date(2026, 1, 1) + timedelta(days=number // PLAYERS)
                    player = name(number % PLAYERS)
                    keep_in(session, player, putts, day=day, card=card, rules_text=rules_text)
    return time.perf_counter() - began


def timed(job: object) -> float:
    """The best of three, milliseconds."""
    took = []
    for _ in range(3):
        began = time.perf_counter()
        job()  # type: ignore[operator]
        took.append(time.perf_counter() - began)
    return 1000 * min(took)


def command(words: tuple[str, ...], where: str, folder: str) -> str:
    """Wall and processor time of a command from its start to its end, the best of three.

    On a machine that does other things too, the processor time is what the command needs.
    """
    run = [sys.executable, "-c", "from puttvision.cli.app import main; main()", *words, name(7)]
    best_s = best_cpu_s = float("inf")
    for _ in range(3):
        before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        done = subprocess.run(
            run, env=os.environ | {"PUTTVISION_STORE": where}, capture_output=True, text=True, cwd=folder
        )
        best_s = min(best_s, time.perf_counter() - began)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        best_cpu_s = min(best_cpu_s, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        if done.returncode:
            told = [line for line in done.stderr.splitlines() if any(map(str.isalpha, line))]
            return "none: " + (told or ["no message"])[-1].strip("│ ")[:40]
    return f"{best_s:.2f} s, CPU {best_cpu_s:.2f} s"


def size_mb(where: str) -> float:
    with opened(where) as store, store.engine.connect() as connection:
        if connection.dialect.name == "postgresql":
            return (
                int(connection.execute(text("SELECT pg_database_size(current_database())")).scalar_one())
                / 1e6
            )
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    return Path(where).stat().st_size / 1e6


def look(where: str, folder: str) -> dict[str, str]:
    """Every figure of the table for the store as it is."""
    with opened(where) as store:
        players = [one.name for one in list_players(store)]
        found = {
            "putts of a player": f"{timed(lambda: putts_of(store, name(7))):.0f} ms",
            "sessions of a player": f"{timed(lambda: sessions_of(store, name(7))):.0f} ms",
            "scorecards of 30 players": f"{timed(lambda: cards_of(store, players[:30], DRILL)):.0f} ms",
            "list of players": f"{timed(lambda: list_players(store)):.0f} ms",
        }
    for words in COMMANDS:
        found["puttvision " + " ".join(words)] = command(words, where, folder)
    return found


def growth(small: str, large: str) -> str:
    """How many times the first number of a cell has grown; the last one's (processor time) of a command."""
    one, two = (re.findall(r"[\d.]+", cell.replace(",", "")) for cell in (small, large))
    return f"x {float(two[-1]) / float(one[-1]):.1f}" if one and two and float(one[-1]) else ""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--store", help="an empty place for the store; else a file that is removed")
    where = parser.parse_args().store
    with tempfile.TemporaryDirectory() as folder:
        where = where or str(Path(folder) / "journal.db")
        with opened(where) as store:
            for player in range(PLAYERS):
                add_player(store, name(player), consent=True)
        columns = []
        for first, last in ((0, SESSIONS // 10), (SESSIONS // 10, SESSIONS)):
            took = fill(where, first, last)
            column = {
                "sessions": f"{last:,}",
                "putts": f"{last * PUTTS:,}",
                "filled in": f"{took:.0f} s",
                "size": f"{size_mb(where):.1f} MB",
            }
            columns.append(column | look(where, folder))
        width = max(map(len, columns[0]))
        for key in columns[0]:
            small, large = columns[0][key], columns[1][key]
            print(f"{key:{width}}  {small:>22}  {large:>22}  {growth(small, large):>7}", flush=True)


if __name__ == "__main__":
    main()
