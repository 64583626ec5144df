"""Published tables of putts holed by distance, as (distance in feet, tries, holed).

Berry: D. Berry, *Statistics: A Bayesian Perspective* (1995/96), professionals, as used by Gelman and
Nolan, "A probability model for golf putting", Teaching Statistics 24(3), 2002, 93-95.
Broadie: M. Broadie, "Two simple putting models in golf" (2018), tour putts of 2016-2018, mean
distance of each bin; both as given in A. Gelman, "Model building and expansion for golf putting",
Stan case study (2019).
"""

from __future__ import annotations

from typing import NamedTuple


class Row(NamedTuple):
    """Putts from one distance."""

    distance_ft: float
    tries: int
    holed: int


BERRY = tuple(
    Row(*row)
    for row in (
        (2, 1443, 1346), (3, 694, 577), (4, 455, 337), (5, 353, 208), (6, 272, 149), (7, 256, 136),
        (8, 240, 111), (9, 217, 69), (10, 200, 67), (11, 237, 75), (12, 202, 52), (13, 192, 46),
        (14, 174, 54), (15, 167, 28), (16, 201, 27), (17, 195, 31), (18, 191, 33), (19, 147, 20),
        (20, 152, 24),
    )
)  # fmt: skip

BROADIE = tuple(
    Row(*row)
    for row in (
        (0.28, 45198, 45183), (0.97, 183020, 182899), (1.93, 169503, 168594), (2.92, 113094, 108953),
        (3.93, 73855, 64740), (4.94, 53659, 41106), (5.94, 42991, 28205), (6.95, 37050, 21334),
        (7.95, 33275, 16615), (8.95, 30836, 13503), (9.95, 28637, 11060), (10.95, 26239, 9032),
        (11.95, 24636, 7687), (12.95, 22876, 6432), (14.43, 41267, 9813), (16.43, 35712, 7196),
        (18.44, 31573, 5290), (20.44, 28280, 4086), (21.95, 13238, 1642), (24.39, 46570, 4767),
        (28.40, 38422, 2980), (32.39, 31641, 1996), (36.39, 25604, 1327), (40.37, 20366, 834),
        (44.38, 15977, 559), (48.37, 11770, 311), (52.36, 8708, 231), (57.25, 8878, 204),
        (63.23, 5492, 103), (69.18, 3087, 35), (75.19, 1742, 24),
    )
)  # fmt: skip
