"""Boxes of pixels: (left, top, right, bottom), the last two one past the end."""

from __future__ import annotations

Box = tuple[int, int, int, int]


def overlap(box: Box, other: Box) -> tuple[tuple[slice, slice], tuple[slice, slice]] | None:
    """Where two boxes meet: slices into the first and into the second."""
    x0, y0 = max(box[0], other[0]), max(box[1], other[1])
    x1, y1 = min(box[2], other[2]), min(box[3], other[3])
    if x0 >= x1 or y0 >= y1:
        return None
    return (
        (slice(y0 - box[1], y1 - box[1]), slice(x0 - box[0], x1 - box[0])),
        (slice(y0 - other[1], y1 - other[1]), slice(x0 - other[0], x1 - other[0])),
    )


def merged(boxes: list[Box]) -> list[Box]:
    """Boxes that meet become one."""
    out: list[Box] = []
    for box in boxes:
        changed = True
        while changed:
            changed = False
            for other in out:
                if overlap(box, other):
                    out.remove(other)
                    box = (
                        min(box[0], other[0]),
                        min(box[1], other[1]),
                        max(box[2], other[2]),
                        max(box[3], other[3]),
                    )
                    changed = True
                    break
        out.append(box)
    return out
