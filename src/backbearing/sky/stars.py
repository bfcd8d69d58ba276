"""Bright stars by their IAU names: places, proper motions, brightness.

Names are those of the IAU Catalog of Star Names [IAUCSN2022]_; places (ICRS, epoch J2000) and
proper motions (in right ascension times cos declination) are facts of the Hipparcos catalogue
[ESA1997]_, taken from the star list of the library PyEphem (MIT). Sargas, Dschubba and Larawag
are not in that list: theirs are those of the new reduction [VanLeeuwen2007]_. Against that
reduction all places agree within 0.18 arcsecond at J2000, and the proper motions within 20
milliarcseconds a year (Alhena, Castor and Rigil Kentaurus, which are double) and 7 for the
others. Parallax counts for the three nearest; all others have less than 0.2 arcsecond.
"""

from __future__ import annotations

import difflib
from typing import Final, NamedTuple

from backbearing.base.errors import SkyError


class Star(NamedTuple):
    """A bright star: ICRS degrees at J2000, proper motion in milliarcseconds a year."""

    name: str
    hip: int
    magnitude: float
    ra_deg: float
    dec_deg: float
    ra_cos_dec_mas_yr: float
    dec_mas_yr: float


_TABLE: Final = (
    ("Sirius", 32349, -1.44, 101.28715, -16.71612, -546.01, -1223.08),
    ("Canopus", 30438, -0.62, 95.98796, -52.69566, 19.99, 23.67),
    ("Arcturus", 69673, -0.05, 213.91530, +19.18241, -1093.45, -1999.40),
    ("Rigil Kentaurus", 71683, -0.01, 219.90207, -60.83398, -3678.19, 481.84),
    ("Vega", 91262, 0.03, 279.23474, +38.78369, 201.02, 287.46),
    ("Capella", 24608, 0.08, 79.17233, +45.99799, 75.52, -427.13),
    ("Rigel", 24436, 0.18, 78.63447, -8.20164, 1.87, -0.56),
    ("Procyon", 37279, 0.40, 114.82549, +5.22499, -716.57, -1034.58),
    ("Achernar", 7588, 0.45, 24.42853, -57.23676, 88.02, -40.08),
    ("Betelgeuse", 27989, 0.45, 88.79294, +7.40706, 27.33, 10.86),
    ("Hadar", 68702, 0.61, 210.95585, -60.37304, -33.96, -25.06),
    ("Altair", 97649, 0.76, 297.69583, +8.86832, 536.82, 385.54),
    ("Acrux", 60718, 0.77, 186.64957, -63.09909, -35.37, -14.73),
    ("Aldebaran", 21421, 0.87, 68.98016, +16.50930, 62.78, -189.36),
    ("Spica", 65474, 0.98, 201.29825, -11.16132, -42.50, -31.73),
    ("Antares", 80763, 1.06, 247.35192, -26.43200, -10.16, -23.21),
    ("Pollux", 37826, 1.16, 116.32896, +28.02620, -625.69, -45.95),
    ("Fomalhaut", 113368, 1.17, 344.41269, -29.62224, 329.22, -164.22),
    ("Mimosa", 62434, 1.25, 191.93026, -59.68876, -48.24, -12.82),
    ("Deneb", 102098, 1.25, 310.35798, +45.28034, 1.56, 1.55),
    ("Regulus", 49669, 1.36, 152.09296, +11.96721, -249.40, 4.91),
    ("Adhara", 33579, 1.50, 104.65645, -28.97208, 2.63, 2.29),
    ("Castor", 36850, 1.58, 113.64943, +31.88828, -206.33, -148.18),
    ("Gacrux", 61084, 1.59, 187.79150, -57.11321, 27.94, -264.33),
    ("Shaula", 85927, 1.62, 263.40217, -37.10382, -8.90, -29.95),
    ("Bellatrix", 25336, 1.64, 81.28276, +6.34970, -8.75, -13.28),
    ("Elnath", 25428, 1.65, 81.57297, +28.60745, 23.28, -174.22),
    ("Miaplacidus", 45238, 1.67, 138.29990, -69.71721, -157.66, 108.91),
    ("Alnilam", 26311, 1.69, 84.05339, -1.20192, 1.49, -1.06),
    ("Alnair", 109268, 1.73, 332.05827, -46.96098, 127.60, -147.91),
    ("Alnitak", 26727, 1.74, 85.18970, -1.94257, 3.99, 2.54),
    ("Alioth", 62956, 1.76, 193.50729, +55.95982, 111.74, -8.99),
    ("Mirfak", 15863, 1.79, 51.08071, +49.86118, 24.11, -26.01),
    ("Kaus Australis", 90185, 1.79, 276.04299, -34.38462, -39.61, -124.05),
    ("Dubhe", 54061, 1.81, 165.93195, +61.75103, -136.46, -35.25),
    ("Wezen", 34444, 1.83, 107.09785, -26.39320, -2.75, 3.33),
    ("Alkaid", 67301, 1.85, 206.88516, +49.31327, -121.23, -15.56),
    ("Avior", 41037, 1.86, 125.62848, -59.50948, -25.34, 22.72),
    ("Sargas", 86228, 1.86, 264.32971, -42.99783, 5.54, -3.12),
    ("Menkalinan", 28360, 1.90, 89.88218, +44.94743, -56.41, -0.88),
    ("Atria", 82273, 1.91, 252.16623, -69.02772, 17.85, -32.92),
    ("Alhena", 31681, 1.93, 99.42792, +16.39925, -2.04, -66.92),
    ("Peacock", 100751, 1.94, 306.41191, -56.73509, 7.71, -86.15),
    ("Polaris", 11767, 1.97, 37.95451, +89.26411, 44.22, -11.74),
    ("Mirzam", 30324, 1.98, 95.67494, -17.95592, -3.45, -0.47),
    ("Alphard", 46390, 1.99, 141.89685, -8.65860, -14.49, 33.25),
    ("Hamal", 9884, 2.01, 31.79336, +23.46242, 190.73, -145.77),
    ("Algieba", 50583, 2.01, 154.99314, +19.84149, 310.77, -152.88),
    ("Diphda", 3419, 2.04, 10.89738, -17.98660, 232.79, 32.71),
    ("Nunki", 92855, 2.05, 283.81636, -26.29672, 13.87, -52.65),
    ("Menkent", 68933, 2.06, 211.67062, -36.36995, -519.29, -517.87),
    ("Alpheratz", 677, 2.07, 2.09691, +29.09043, 135.68, -162.95),
    ("Mirach", 5447, 2.07, 17.43302, +35.62056, 175.59, -112.23),
    ("Saiph", 27366, 2.07, 86.93912, -9.66960, 1.55, -1.20),
    ("Kochab", 72607, 2.07, 222.67636, +74.15550, -32.29, 11.91),
    ("Rasalhague", 86032, 2.08, 263.73363, +12.56003, 110.08, -222.61),
    ("Algol", 14576, 2.09, 47.04221, +40.95565, 2.39, -1.44),
    ("Almach", 9640, 2.10, 30.97480, +42.32972, 43.08, -50.85),
    ("Denebola", 57632, 2.14, 177.26491, +14.57206, -499.02, -113.78),
    ("Naos", 39429, 2.21, 120.89603, -40.00315, -30.82, 16.77),
    ("Alphecca", 76267, 2.22, 233.67195, +26.71469, 120.38, -89.44),
    ("Suhail", 44816, 2.23, 136.99899, -43.43259, -23.21, 14.28),
    ("Mizar", 65378, 2.23, 200.98143, +54.92536, 121.23, -22.01),
    ("Sadr", 100453, 2.23, 305.55709, +40.25668, 2.43, -0.93),
    ("Schedar", 3179, 2.24, 10.12684, +56.53733, 50.36, -32.17),
    ("Eltanin", 87833, 2.24, 269.15154, +51.48889, -8.52, -23.05),
    ("Mintaka", 25930, 2.25, 83.00167, -0.29909, 1.67, 0.56),
    ("Caph", 746, 2.28, 2.29452, +59.14978, 523.39, -180.42),
    ("Dschubba", 78401, 2.29, 240.08336, -22.62171, -10.21, -35.41),
    ("Larawag", 82396, 2.29, 252.54088, -34.29323, -614.85, -255.98),
    ("Merak", 53910, 2.34, 165.46032, +56.38243, 81.66, 33.74),
    ("Izar", 72105, 2.35, 221.24674, +27.07422, -50.65, 20.00),
    ("Enif", 107315, 2.38, 326.04649, +9.87501, 30.02, 1.38),
    ("Ankaa", 2081, 2.40, 6.57105, -42.30598, 232.76, -353.64),
    ("Phecda", 58001, 2.41, 178.45770, +53.69476, 107.76, 11.16),
    ("Sabik", 84012, 2.43, 257.59453, -15.72491, 41.16, 97.65),
    ("Scheat", 113881, 2.44, 345.94357, +28.08279, 187.76, 137.61),
    ("Alderamin", 105199, 2.45, 319.64488, +62.58557, 149.91, 48.27),
)  # fmt: skip

PARALLAX_MAS: Final = {71683: 742.1, 32349: 379.2, 37279: 285.9}
"""Annual parallaxes by Hipparcos number: Rigil Kentaurus, Sirius, Procyon [ESA1997]_.

From the distances that a public list of the nearest stars gives after that catalogue, 4.3950,
8.6011 and 11.407 light years; the new reduction has 754.8 for the first.
"""

STARS: Final = {row[0].casefold(): Star(*row) for row in _TABLE}
"""Every star here by its name in lower case."""


def star_named(name: str) -> Star:
    """Find a bright star by its IAU name, in any case.

    Raises
    ------
    SkyError
        No star here has that name; the nearest names stand in the message.
    """
    key = " ".join(name.split()).casefold()
    if key not in STARS:
        near = difflib.get_close_matches(key, list(STARS), n=3, cutoff=0.6)
        known = [STARS[k].name for k in near] or sorted(s.name for s in STARS.values())
        begun = "did you mean" if near else "the stars known are"
        raise SkyError(
            f'there is no star "{name}" here',
            hint=f"{begun} {', '.join(known)}, or write its ra_deg and dec_deg",
            star=name,
        )
    return STARS[key]
