"""How black and white on paper become luma: they mix as light, and the tone curve bends the mixture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from puttvision.green.sheet import MARKER_CELLS

Floats = NDArray[np.float64]

_BLACKEST, _WHITEST = (1e-3, 1.0), (0.02, 2.0)
"""Bounds of luma."""


@dataclass(frozen=True, slots=True)
class Slopes:
    """How luma changes with the share of white, gamma's logarithm, black and white; shapes (n,)."""

    share: Floats
    log_gamma: Floats
    black: Floats
    white: Floats


@dataclass(frozen=True, slots=True)
class Tone:
    """A camera's tone curve, and the black and white it shows."""

    gamma: float
    black: float
    white: Floats
    """Luma, shape (n,): the light on the paper may be uneven."""
    black_held: bool
    white_held: NDArray[np.bool_]
    """Where these are at the bounds of what they may be."""

    @classmethod
    def at(cls, cells: Floats, told: Floats) -> Tone:
        """On these cells of the sheet, shape (2, n).

        ``told``: logarithm of gamma, black, white at the centre, its slopes along the sheet's x and y.
        """
        black = float(np.clip(told[1], *_BLACKEST))
        plain = told[2] + told[3:] @ cells / MARKER_CELLS
        white = np.clip(plain, *_WHITEST)
        return cls(float(np.exp(told[0])), black, white, black != told[1], white != plain)

    def _light(self, share: Floats) -> Floats:
        dark = self.black**self.gamma
        return np.asarray(dark + (self.white**self.gamma - dark) * share)

    def luma(self, share: Floats) -> Floats:
        """Luma where this share of the light is white, shape (n,)."""
        return np.asarray(self._light(share) ** (1 / self.gamma))

    def slopes(self, share: Floats) -> Slopes:
        """Of the luma at these shares of white."""
        gamma = self.gamma
        light = self._light(share)
        luma = light ** (1 / gamma)
        bent = luma / (gamma * light)
        bright, dark = self.white**gamma, self.black**gamma
        of_white, of_black = share * bright, (1 - share) * dark
        logs = of_white * np.log(self.white) + of_black * np.log(self.black)
        return Slopes(
            share=bent * (bright - dark),
            log_gamma=gamma * bent * logs - luma * np.log(light) / gamma,
            black=bent * gamma * of_black / self.black * (not self.black_held),
            white=bent * gamma * of_white / self.white * ~self.white_held,
        )
