"""Fixtures that every test may use."""

from pathlib import Path

import pytest

_SHARED = Path(__file__).resolve().parents[2] / "shared"


@pytest.fixture(scope="session")
def shared() -> Path:
    """The team's folder of reference clips beside the checkout; the test is skipped without it."""
    if not _SHARED.is_dir():
        pytest.skip(f"the reference material is not here: {_SHARED}")
    return _SHARED
