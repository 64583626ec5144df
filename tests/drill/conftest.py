"""Short ways to write a list of putts."""

import pytest

from puttvision.putts import Putt

_OUTCOMES = {"M": "holed", "X": "missed", "U": "unseen"}
_GATES = {"c": "clear", "t": "touched", "o": "outside", "-": "none"}


def putts_of(text, **figures):
    """``"M X U"``: made, missed, unseen; ``"Mc Xo"``: with the gate clear, outside, touched, none."""
    return [
        Putt(
            number=number,
            outcome=_OUTCOMES[word[0]],
            gate_result=_GATES[word[1]] if len(word) > 1 else "none",
            **figures,
        )
        for number, word in enumerate(text.split(), start=1)
    ]


@pytest.fixture(name="putts_of", scope="session")
def putts_of_fixture():
    """`putts_of`, for tests."""
    return putts_of
