"""The truth file beside a clip: everything that a measurement of it should find.

Names and definitions follow the measuring program's own results; a figure is a plain number here.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from puttvision.physics import HOLE_RADIUS_M
from sample_media.film import paper, shot
from sample_media.film.optics import View, view_at, views_of
from sample_media.film.play import Script
from sample_media.film.render import frame_times
from sample_media.film.roll import Roll, along_right
from sample_media.film.scene import Camera
from sample_media.film.swing import Played

Array = NDArray[np.float64]
FIRST_STRETCH_M = 0.20


def truth(script: Script, frames: int) -> dict[str, Any]:
    """Truth of a filmed scene as JSON-ready values."""
    scene, camera = script.scene, script.scene.camera
    times = frame_times(script)
    views = views_of(camera)
    first = views[0][1]
    hole = (*scene.hole, 0.0)
    return {
        "format": "puttvision-truth/1",
        "clip": {
            "file": f"{scene.name}.mp4",
            "duration_s": round(times[-1] + 1 / camera.fps, 6),
            "frames": frames,
            "width": camera.width,
            "height": camera.height,
            "fps_nominal": camera.fps,
            "codec": scene.codec,
            "display_rotation_deg": camera.turn_deg,
            "fps_of_file": camera.fps if camera.file_fps is None else camera.file_fps,
            "exposure_s": camera.exposure_s,
            "readout_s": camera.readout_s,
            "pts_meaning": "middle of the exposure of the first row; row r: readout_s * r / height later",
            "variable_frame_rate": camera.variable_rate,
            "what": scene.what,
            "seed": scene.seed,
        },
        "green": {
            "sheets": [s.id for s in scene.sheets],
            "stimp_ft": scene.green.stimp_ft,
            "slope_along": scene.green.slope_along,
            "slope_left": scene.green.slope_left,
            "hole_px": _round(first.project(hole), 3),
            "hole_world": list(hole),
        },
        "world": "z = 0 putting plane, z up; x from the nominal start to the hole, y to the left; metres",
        "pixels": "(0, 0) is the centre of the top left pixel",
        "cameras": [
            _camera(at, view) for at, view in (views if camera.sway is None else _swaying(camera, times))
        ],
        "sheets": [
            {
                "id": s.id,
                "page": s.page,
                "sheet_to_world": _round(paper.sheet_to_world(s), 9),
                "corners_world": _round(paper.sheet_corners(s), 6),
                "corners_px": [_round(view.project(paper.sheet_corners(s)), 3) for _, view in views],
            }
            for s in scene.sheets
        ],
        "putts": [putt_truth(script, p, times) for p in script.played],
        "gate": _gate(script, first),
        "head_gate": _head_gate(script),
        "other_balls_world": [list(p) for p in scene.other_balls],
        "pts_s": [round(t, 6) for t in times] if camera.variable_rate else None,
    }


def putt_truth(script: Script, played: Played, times: list[float]) -> dict[str, Any]:
    """Every figure of one putt."""
    scene, p, roll = script.scene, played.putt, played.roll
    start, hole = p.start, scene.hole
    distance = math.dist(start, hole)
    to_hole = _right_of(played.launch, (hole[0] - start[0], hole[1] - start[1]))
    gate = gate_figures(script, played)
    turned_away = bool(roll.post_hits) and gate["gate_result"] == "outside"
    hole_offset, hole_speed = (None, None) if turned_away else hole_figures(played.covered, start, hole)
    along, right = along_right(roll.xyz[:, :2], start, hole)
    over, _ = along_right(played.covered.xyz[-1:, :2], start, hole)
    run_out: float | None = float(over[0] if roll.holed else along[-1]) - distance
    rest = (
        None if roll.holed else {"along_m": round(float(along[-1]), 6), "right_m": round(float(right[-1]), 6)}
    )
    if p.unseen:
        hole_offset = hole_speed = run_out = None
    out_of_view = not _in_picture(script, played)
    return {
        "number": played.number,
        "start_s": p.impact_s,
        "hole_distance_m": round(distance, 6),
        "start_direction_to_hole_deg": round(to_hole, 5),
        **gate,
        "launch_speed_m_s": round(launch_speed(roll), 6),
        "face_speed_m_s": round(math.hypot(*played.launch), 6),
        "hole_offset_mm": None if hole_offset is None else round(1000 * hole_offset, 3),
        "speed_at_hole_m_s": None if hole_speed is None else round(hole_speed, 6),
        "outcome": "unseen" if p.unseen else ("holed" if roll.holed else "missed"),
        "lipped": bool(roll.rim_met and not roll.holed and not p.unseen),
        "rim_met": roll.rim_met,
        "rest": None if out_of_view or p.unseen else rest,
        "rest_simulated": rest,
        "run_out_m": None if run_out is None else round(run_out, 6),
        "holed_s": None if roll.holed_s is None else round(p.impact_s + roll.holed_s, 6),
        "rest_s": round(p.impact_s + float(roll.t[-1]), 6),
        "really_holed": roll.holed,
        "start_world": _round(roll.xyz[0], 6),
        "trajectory_240hz": _trajectory(played, start, hole),
        "ball_px": _ball_px(script, played, times),
    }


def launch_speed(roll: Roll) -> float:
    """Mean speed over the first 0.20 m of travel, m/s."""
    travelled = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(roll.xyz[:, :2], axis=0), axis=1))])
    if travelled[-1] < FIRST_STRETCH_M:
        return float(travelled[-1] / roll.t[-1])
    k = int(np.argmax(travelled >= FIRST_STRETCH_M))
    return FIRST_STRETCH_M / float(np.interp(FIRST_STRETCH_M, travelled[: k + 1], roll.t[: k + 1]))


def hole_figures(
    covered: Roll, start: tuple[float, float], hole: tuple[float, float]
) -> tuple[float | None, float | None]:
    """(offset to the right in m, speed at the hole in m/s) of the path over a covered hole."""
    distance = math.dist(start, hole)
    along, right = along_right(covered.xyz[:, :2], start, hole)
    gap = np.hypot(along - distance, right)
    k = int(np.argmin(gap))
    if k >= len(gap) - 2:  # still coming closer when it stopped
        return None, None
    step = covered.xyz[min(k + 1, len(gap) - 1), :2] - covered.xyz[k - 1, :2]
    away = covered.xyz[k, :2] - hole
    # How far it passes to the right of the hole, across the way it goes there.
    side = float(step[1] * away[0] - step[0] * away[1]) / float(np.linalg.norm(step))
    first = int(np.argmax(gap < HOLE_RADIUS_M)) if (gap < HOLE_RADIUS_M).any() else k
    return side, float(np.hypot(*covered.velocity[first, :2]))


def gate_figures(script: Script, played: Played) -> dict[str, Any]:
    """Direction to the gate, result, offset and time at its line."""
    posts = [p for p in script.posts if p.name in ("left", "right")]
    none = {
        "start_direction_to_gate_deg": None,
        "gate_result": "none",
        "gate_offset_mm": None,
        "gate_cross_s": None,
        "post_hits": [],
    }
    if not posts:
        return none
    left, right = (np.array([p.x, p.y]) for p in posts)
    centre = (left + right) / 2
    across = (right - left) / np.linalg.norm(right - left)
    roll, start = played.roll, np.asarray(played.putt.start)
    normal = np.array([-across[1], across[0]])
    depth = (roll.xyz[:, :2] - centre) @ normal
    crossing = np.flatnonzero((depth[:-1] < 0) & (depth[1:] >= 0))
    hits = roll.post_hits
    result, offset, cross_s = "outside", None, None
    if len(crossing):
        k = int(crossing[0])
        s = -depth[k] / (depth[k + 1] - depth[k])
        at = roll.xyz[k, :2] + s * (roll.xyz[k + 1, :2] - roll.xyz[k, :2])
        side = float((at - centre) @ across)
        cross_s = float(played.putt.impact_s + roll.t[k] + s * (roll.t[k + 1] - roll.t[k]))
        through = abs(side) < float(np.linalg.norm(right - left)) / 2
        if through:
            result = "touched" if hits else "clear"
        if through or not any(t <= roll.t[k] for t, _ in hits):
            offset = 1000 * side
    return {
        "start_direction_to_gate_deg": round(_right_of(played.launch, tuple(centre - start)), 5),
        "gate_result": result,
        "gate_offset_mm": None if offset is None else round(offset, 3),
        "gate_cross_s": None if cross_s is None else round(cross_s, 6),
        "post_hits": [{"t": round(played.putt.impact_s + t, 6), "post": name} for t, name in hits],
    }


def _right_of(way: tuple[float, ...], line: tuple[float, ...]) -> float:
    """Angle of ``way`` to the right of ``line``, degrees."""
    a = math.atan2(line[1], line[0]) - math.atan2(way[1], way[0])
    return math.degrees(math.atan2(math.sin(a), math.cos(a)))


def _in_picture(script: Script, played: Played) -> bool:
    view = view_at(script.scene.camera, played.putt.impact_s + float(played.roll.t[-1]))
    u, v = view.project(played.roll.at_rest)
    return bool(0 <= u <= view.width - 1 and 0 <= v <= view.height - 1)


def _trajectory(
    played: Played, start: tuple[float, float], hole: tuple[float, float]
) -> dict[str, list[float]]:
    t = np.arange(0, played.roll.t[-1], 1 / 240)
    xyz = played.roll.at(t)
    along, right = along_right(xyz[:, :2], start, hole)
    return {
        "t": _round(played.putt.impact_s + t, 5),
        "along": _round(along, 5),
        "right": _round(right, 5),
        "height": _round(xyz[:, 2], 5),
    }


def _ball_px(script: Script, played: Played, times: list[float]) -> dict[str, Any]:
    camera = script.scene.camera
    life = next(b for b in script.balls if b.number == played.number)
    begin, end = played.putt.impact_s - 0.25, played.putt.impact_s + float(played.roll.t[-1]) + 0.1
    rows = []
    for i, t in enumerate(times):
        if begin <= t <= end and life.visible(t):
            view = view_at(camera, t)
            (u, v), seen_s = shot.seen_at(view, camera, life, t)
            if np.isfinite(u):
                height = float(life.place(seen_s)[2])
                rows.append([i, round(t, 6), round(float(u), 3), round(float(v), 3), round(height, 5)])
    return {"columns": ["frame", "pts_s", "u", "v", "height_m"], "rows": rows}


def _swaying(camera: Camera, times: list[float]) -> list[tuple[float, View]]:
    """The camera's pose every quarter of a second."""
    return [(float(t), view_at(camera, float(t))) for t in np.arange(0.0, times[-1], 0.25)]


def _camera(at: float, view: View) -> dict[str, Any]:
    return {
        "from_s": at,
        "width": view.width,
        "height": view.height,
        "K": view.matrix.tolist(),
        "dist_k1_k2_p1_p2_k3": view.distortion.tolist(),
        "R_world_to_camera": view.rotation.tolist(),
        "t_world_to_camera": view.translation.tolist(),
        "centre_world": view.centre.tolist(),
    }


def _gate(script: Script, view: View) -> dict[str, Any] | None:
    gate = script.scene.gate
    posts = [p for p in script.posts if p.name in ("left", "right")]
    if gate is None:
        return None
    left, right = (np.array([p.x, p.y]) for p in posts)
    centre = (left + right) / 2
    return {
        "distance_m": round(float(np.hypot(*centre)), 6),
        "width_mm": gate.width_mm,
        "square_deg": gate.square_deg,
        "square_sign": "positive: the gate's face points to the right of the line from ball to hole",
        "distance_from": "nominal start (0, 0); each putt's own start is in start_world",
        "post_spacing_mm": gate.width_mm + gate.post_diameter_mm,
        "post_diameter_mm": gate.post_diameter_mm,
        "post_height_m": gate.post_height_m,
        "centre_world": _round(centre, 6),
        "left_post_world": _round(left, 6),
        "right_post_world": _round(right, 6),
        "posts_px": _round(view.project([(*left, 0.0), (*right, 0.0)]), 3),
    }


def _head_gate(script: Script) -> dict[str, float] | None:
    gate = script.scene.head_gate
    if gate is None:
        return None
    return {"x": gate.x, "gap": gate.gap_m, "r": gate.post_diameter_mm / 2000, "h": gate.post_height_m}


def _round(a: Any, digits: int) -> Any:
    return np.round(np.asarray(a, dtype=float), digits).tolist()
