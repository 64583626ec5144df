"""The three fixed drills once more, as plain as can be: written from the words of the scorecard
format alone, sharing nothing with the engine (no import from puttvision)."""


def plain_score(drill, putts, target=50, n_putts=20, strict=False):
    """``putts``: list of (number, outcome, gate result) -> the keys of a scorecard that the format fixes."""
    play = {"head-gate-streak": _streak, "ball-gate-points": _points, "nine-six-three": _nine}[drill]
    card = {
        "state": "running", "counted": 0, "set_aside": [], "points": None,
        "restarts": 0, "streak": 0, "best_streak": 0, "lines": [],
    }  # fmt: skip
    memory = {"target": target, "n_putts": n_putts, "strict": strict}
    stage = play(card, memory, None, None)
    for number, outcome, gate in putts:
        if card["state"] != "running":
            break
        if outcome == "unseen":
            card["set_aside"].append(number)
            continue
        made = outcome == "holed"
        card["counted"] += 1
        line = {"putt": number, "grip": "both hands", "made": made, "points": None, "restarted": False}
        card["lines"].append(line)
        if made:
            card["streak"] += 1
            card["best_streak"] = max(card["best_streak"], card["streak"])
        stage = play(card, memory, made, gate)
        if not made:
            card["streak"] = 0
    card["stage"] = stage
    return card


def _streak(card, memory, made, _gate):
    if made is None:
        memory["count"] = 0
    else:
        line = card["lines"][-1]
        line["stage"] = 1
        line["grip"] = "both hands" if memory["count"] % 18 < 6 else "trail hand alone"
        if made:
            memory["count"] += 1
        else:
            if memory["count"] >= 1:
                card["restarts"] += 1
                line["restarted"] = True
            memory["count"] = 0
        if memory["count"] == memory["target"]:
            card["state"] = "finished"
    return {"number": 1, "of": 1, "made": memory["count"], "tried": memory["count"]}


def _points(card, memory, made, gate):
    if made is None:
        card["points"], memory["made"] = 0, 0
    else:
        through = gate in ("clear", "touched")
        for_holed = 1 if through or not memory["strict"] else 0
        for_missed = 0.5 if through else 0
        worth = for_holed if made else for_missed
        card["points"] += worth
        memory["made"] += made
        card["lines"][-1].update(stage=1, points=worth)
        if card["counted"] == memory["n_putts"]:
            card["state"] = "finished"
    return {"number": 1, "of": 1, "made": memory["made"], "tried": card["counted"]}


def _nine(card, memory, made, _gate):
    if made is None:
        memory.update(stage=1, made=0, missed=0)
    else:
        line = card["lines"][-1]
        line["stage"] = memory["stage"]
        memory["made" if made else "missed"] += 1
        if memory["stage"] == 1:
            if not made:
                memory.update(made=0, missed=0)
            elif memory["made"] == 2:
                memory.update(stage=2, made=0, missed=0)
        elif memory["missed"] == (2 if memory["stage"] == 2 else 1):
            card["restarts"] += 1
            line["restarted"] = True
            memory.update(stage=1, made=0, missed=0)
        elif memory["stage"] == 2 and memory["made"] == 3:
            memory.update(stage=3, made=0, missed=0)
        elif memory["stage"] == 3 and memory["made"] == 4:
            card["state"] = "finished"
    tried = memory["made"] + memory["missed"]
    return {"number": memory["stage"], "of": 3, "made": memory["made"], "tried": tried}
