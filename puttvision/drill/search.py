"""The whole number at which a chance that rises or falls with it comes to what is asked."""

from __future__ import annotations

from collections.abc import Callable


def hardest(chance_of: Callable[[int], float], asked: float, most: int) -> tuple[int | None, float]:
    """The greatest whole number whose chance, which falls with it, is at least ``asked``."""
    low, best = 0, chance_of(1)
    if best < asked:
        return None, best
    low, high = 1, 2
    while high <= most and (chance := chance_of(high)) >= asked:
        low, best, high = high, chance, 2 * high
    high = min(high, most + 1)
    while high - low > 1:
        middle = (low + high) // 2
        chance = chance_of(middle)
        if chance >= asked:
            low, best = middle, chance
        else:
            high = middle
    return low, best


def easiest_enough(
    chance_of: Callable[[int], float], asked: float, low: int, high: int
) -> tuple[int | None, float]:
    """The least number from low to high whose chance, which rises with it, is at least ``asked``.

    Tried in growing steps from below: a small number is reckoned faster than a great one.
    """
    first, top, reach = low - 1, high, 8
    while True:
        high = min(low - 1 + reach, top)
        best = chance_of(high)
        if best >= asked:
            break
        if high == top:
            return None, best
        first, reach = high, 2 * reach
    while high - first > 1:
        middle = (first + high) // 2
        chance = chance_of(middle)
        if chance >= asked:
            high, best = middle, chance
        else:
            first = middle
    return high, best
