"""Reading what a page sent: JSON objects of known keys, with every fault named."""

from __future__ import annotations

import json
import math
from typing import Any

from starlette.requests import Request

from puttvision.errors import PuttvisionError

LARGEST_NUMBER = 2**31 - 1
"""The largest whole number that every database takes."""
LONGEST_TEXT = 500


class BadRequest(PuttvisionError):
    """A request that no page of ours sends."""


class Body:
    """A JSON object of a request."""

    def __init__(self, data: Any) -> None:
        if not isinstance(data, dict):
            raise BadRequest("a JSON object was due")
        self._data = data

    @classmethod
    async def of(cls, request: Request) -> Body:
        """Read it whole; the guard has limited its size."""
        try:
            return cls(json.loads(await request.body(), parse_constant=_no_constant))
        except (ValueError, RecursionError) as err:
            raise BadRequest("a JSON object was due") from err

    def raw(self, key: str) -> Any:
        return self._data.get(key)

    def has(self, key: str) -> bool:
        return self._data.get(key) is not None

    def whole(self, key: str) -> int:
        """A whole number from 0."""
        value = self._data.get(key)
        if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value <= LARGEST_NUMBER:
            raise BadRequest(f"{key}: a whole number was due")
        return value

    def number(self, key: str) -> float:
        value = self._data.get(key)
        if not isinstance(value, int | float) or isinstance(value, bool):
            raise BadRequest(f"{key}: a number was due")
        if not math.isfinite(value) or abs(value) > LARGEST_NUMBER:
            raise BadRequest(f"{key}: a number was due")
        return float(value)

    def text(self, key: str, *, longest: int = LONGEST_TEXT) -> str:
        """A text without control characters; empty where it is missing."""
        value = self._data.get(key) or ""
        if not isinstance(value, str):
            raise BadRequest(f"{key}: a text was due")
        return clean(value, key, longest)

    def value(self, key: str) -> str | float | int | bool | None:
        """A plain value: a text, a number, true, false or null."""
        value = self._data.get(key)
        if value is None or isinstance(value, bool):
            return value
        if isinstance(value, str):
            return clean(value, key, LONGEST_TEXT)
        if isinstance(value, int | float):
            return self.number(key)
        raise BadRequest(f"{key}: a text, a number, true, false or null was due")


def clean(text: str, key: str, longest: int = LONGEST_TEXT) -> str:
    """Text that every database and page takes; BadRequest where it is too long or no text at all."""
    if len(text) > longest:
        raise BadRequest(f"{key}: at most {longest} characters")
    try:
        text.encode()
    except UnicodeEncodeError as err:
        raise BadRequest(f"{key}: a text was due") from err
    return "".join(sign if sign.isprintable() else " " for sign in text).strip()


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no JSON")
