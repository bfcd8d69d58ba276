"""Where the formulas and figures of lamp, air and twilight come from; part of ``REFERENCES``."""

from __future__ import annotations

from typing import Final

LIGHT_REFERENCES: Final[dict[str, str]] = {
    "Kasten1989": (
        "F. Kasten and A. T. Young, Revised optical air mass tables and approximation formula, "
        "Appl. Opt. 28, 4735 (1989), doi:10.1364/AO.28.004735; coefficients at second hand"
    ),
    "Janiczek1987": (
        "P. M. Janiczek and J. A. DeYoung, Computer programs for Sun and Moon illuminance with "
        "contingent tables and diagrams, US Naval Observatory Circular 171 (1987); coefficients "
        "as several public programs have them"
    ),
    "Palmer2010": (
        "J. M. Palmer and B. G. Grant, The Art of Radiometry, SPIE Press (2010), "
        "ISBN 978-0-8194-7245-8, inverse square, cosine and matt surfaces; at second hand, the "
        "pages were not seen"
    ),
    "Hook1989": (
        "R. N. Hook, Polar axis alignment requirements for astronomical photography, J. Brit. "
        "Astron. Assoc. 99, 19 (1989); from memory, the pages were not seen"
    ),
    "Covington1999": (
        "M. A. Covington, Astrophotography for the Amateur, 2nd ed., Cambridge University Press "
        "(1999), appendix B, Mathematical analysis of polar-axis misalignment; the abstract was "
        "seen"
    ),
    "Oke1987": (
        "T. R. Oke, Boundary Layer Climates, 2nd ed., Methuen (1987), ISBN 978-0-415-04319-9, "
        "albedos of natural and built surfaces; at second hand: brick, stone, concrete, grass and "
        "white paint as a thesis tabulates them, snow as encyclopaedias do"
    ),
}
"""Citation key to a line with DOI, ISBN or publisher."""
