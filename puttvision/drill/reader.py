"""Taking keys out of a drill file's tables; every fault names file, place, key, what was due and the mend."""

from __future__ import annotations

import datetime
import json
import math
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import Any

from puttvision.errors import DrillError


def nearest(word: str, valid: Sequence[str]) -> str:
    """`` (nearest: ...)`` with the valid word that looks most like ``word``; empty where none does."""
    close = get_close_matches(word.lower(), valid, n=1, cutoff=0.5)
    return f'; nearest: "{close[0]}"' if close else ""


def _shown(value: Any) -> str:
    if isinstance(value, (datetime.date, datetime.time)):
        return str(value)
    return json.dumps(value, ensure_ascii=False, default=str)[:60]


class Table:
    """One table of a drill file. Unknown keys are refused when it is made."""

    def __init__(self, data: Any, where: str, keys: Sequence[str], elsewhere: Mapping[str, str]) -> None:
        self.data, self.where = data, where
        if not isinstance(data, Mapping):
            raise DrillError(f"{where}: a table of keys was due, got {_shown(data)}")
        for key in data:
            if key not in keys:
                if key in elsewhere:
                    near = f"; it belongs in {elsewhere[key]}"
                else:
                    near = nearest(key, keys) or f"; keys here are: {', '.join(keys)}"
                raise DrillError(f'{where}: "{key}" is no key here{near}')

    def fault(self, key: str, due: str) -> DrillError:
        """The error for one key: what was due, what came."""
        got = f", got {_shown(self.data[key])}" if key in self.data else ", and it is missing"
        return DrillError(f"{self.where}, {key}: {due} was due{got}")

    def has(self, key: str) -> bool:
        return key in self.data

    def text(self, key: str, default: str | None = None) -> str:
        """A text; required where there is no default."""
        value = self.data.get(key, default)
        if not isinstance(value, str) or (default is None and not value.strip()):
            raise self.fault(key, "a text in quotes")
        return value.strip()

    def texts(self, key: str) -> tuple[str, ...]:
        value = self.data.get(key, [])
        value = [value] if isinstance(value, str) else value
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            raise self.fault(key, 'a list of texts, such as ["two tees", "three balls"],')
        return tuple(value)

    def choice(self, key: str, valid: Sequence[str], default: str | None = None) -> str:
        value = self.data.get(key, default)
        if value not in valid:
            listed = ", ".join(f'"{word}"' for word in valid)
            error = self.fault(key, f"one of {listed}")
            raise DrillError(str(error) + (nearest(value, valid) if isinstance(value, str) else ""))
        return str(value)

    def flag(self, key: str) -> bool:
        value = self.data.get(key, False)
        if not isinstance(value, bool):
            raise self.fault(key, "true or false (without quotes)")
        return value

    def whole(self, key: str, low: int, high: int, extra: str = "") -> int | None:
        """A whole number, or None where the key is absent."""
        if key not in self.data:
            return None
        value = self.data[key]
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        raise self.fault(key, f"a whole number from {low} to {high}{extra}")

    def number(self, key: str, low: float, high: float, unit: str = "") -> float | None:
        value = self.data.get(key)
        if key not in self.data:
            return None
        if not is_number(value) or not low <= value <= high:
            raise self.fault(key, f"a number from {low:g} to {high:g}{unit}")
        return float(value)

    def hundredths(self, key: str) -> int | None:
        """Points, as hundredths."""
        value = self.data.get(key)
        if key not in self.data:
            return None
        if not is_number(value) or abs(value) > 1000 or not math.isclose(100 * value, round(100 * value)):
            raise self.fault(key, "points from -1000 to 1000 with at most two decimals")
        hundredths: int = round(100 * value)
        return hundredths

    def window(self, key: str, unit: str, from_zero: bool) -> tuple[float, float] | None:
        """``[from, to]``; one number means from 0 to it where ``from_zero`` allows that."""
        value = self.data.get(key)
        if key not in self.data:
            return None
        short = f", or one number of {unit}," if from_zero else ""
        due = f"a window [from, to] in {unit}{short} with from below to (inf for no limit)"
        if from_zero and is_number(value) and value > 0:
            return (0.0, float(value))
        if not isinstance(value, list) or len(value) != 2:
            raise self.fault(key, due)
        if any(isinstance(n, bool) or not isinstance(n, (int, float)) or math.isnan(n) for n in value):
            raise self.fault(key, due)
        if not value[0] < value[1] or (from_zero and value[0] < 0):
            raise self.fault(key, due)
        return (float(value[0]), float(value[1]))


def is_number(value: Any) -> bool:
    """A finite number, not true or false."""
    return not isinstance(value, bool) and isinstance(value, (int, float)) and math.isfinite(value)
