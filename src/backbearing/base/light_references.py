"""Where the formulas of lamp, air, twilight and town glow come from; part of ``REFERENCES``."""

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
    "Garstang1989": (
        "R. H. Garstang, Night-sky brightness at observatories and sites, PASP 101, 306 (1989), "
        "doi:10.1086/132436, magnitudes to nanolamberts; the round Earth and light scattered twice "
        "at second hand, as [Cinzano2000] and public programs have them"
    ),
    "Patat2003": (
        "F. Patat, UBVRI night sky brightness during sunspot maximum at ESO-Paranal (2003), "
        "arXiv:astro-ph/0301115: zenith, V = 21.6; by altitude, with 0.6 of it airglow, from memory"
    ),
    "Walker1977": (
        "M. F. Walker, The effects of urban lighting on the brightness of the night sky, PASP 89, "
        "405 (1977), I = C P d^-2.5 at second hand; C = 0.01 for people and kilometres as it is "
        "quoted since, from memory"
    ),
    "IAUCIE1980": (
        "R. Cayrel, F. G. Smith, A. J. Fisher and J. B. de Boer, Guidelines for minimizing urban "
        "sky glow near astronomical observatories, IAU and CIE, CIE 001-1980: a tenth above the "
        "natural sky 45 degrees up; populations and distances from memory"
    ),
    "Falchi2016": (
        "F. Falchi et al., The new world atlas of artificial night sky brightness, Sci. Adv. 2, "
        "e1600377 (2016), doi:10.1126/sciadv.1600377, natural zenith sky of 22 mag/arcsec2 or "
        "1.7e-4 cd/m2; its third digit, 0.174 mcd/m2, at second hand"
    ),
    "Garstang1986": (
        "R. H. Garstang, Model for artificial night-sky illumination, PASP 98, 364 (1986), "
        "doi:10.1086/131768: a town's emission, 1000 lumens a head, G = F = 0.15; at second hand "
        "and from memory, the pages were not seen"
    ),
    "Garstang1991": (
        "R. H. Garstang, Dust and light pollution, PASP 103, 1109 (1991), doi:10.1086/132933: how "
        "haze scatters by angle; at second hand, as [Cinzano2000] and public programs have it"
    ),
    "Cinzano2000": (
        "P. Cinzano, F. Falchi, C. D. Elvidge and K. E. Baugh, The artificial night sky brightness "
        "mapped from DMSP satellite Operational Linescan System measurements, MNRAS 318, 641 "
        "(2000), doi:10.1046/j.1365-8711.2000.03562.x: equations 5 to 20 of Garstang's model as a "
        "public program of NASA's DEVELOP numbers them"
    ),
    "Luginbuhl2009": (
        "C. B. Luginbuhl et al., From the ground up II: sky glow and near-ground artificial light "
        "propagation in Flagstaff, Arizona, PASP 121, 204 (2009), doi:10.1086/597626: much less "
        "glow than Garstang's model gives; the abstract was seen"
    ),
    "Oke1987": (
        "T. R. Oke, Boundary Layer Climates, 2nd ed., Methuen (1987), ISBN 978-0-415-04319-9, "
        "albedos of natural and built surfaces; at second hand: brick, stone, concrete, grass and "
        "white paint as a thesis tabulates them, snow as encyclopaedias do"
    ),
}
"""Citation key to a line with DOI, ISBN or publisher."""
