"""Where the formulas and figures come from: keys used in docstrings and by ``explain``."""

from __future__ import annotations

from typing import Final

from backbearing.base.light_references import LIGHT_REFERENCES

REFERENCES: Final[dict[str, str]] = {
    "Karney2013": (
        "C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 43-55 (2013), "
        "doi:10.1007/s00190-012-0578-z"
    ),
    "Barth2008": (
        "A. Barth, C. Jackson and J. C. Mitchell, Robust defenses for cross-site request forgery, "
        "ACM CCS (2008), doi:10.1145/1455770.1455782; from memory"
    ),
    "DeBoor1978": (
        "C. de Boor, A Practical Guide to Splines, Springer (1978), ISBN 978-0-387-90356-9, "
        "uniform cubic B-splines; from memory"
    ),
    "HTMLLS": (
        "WHATWG, HTML Living Standard, section 9.2, server-sent events, "
        "https://html.spec.whatwg.org/multipage/server-sent-events.html; from memory"
    ),
    "JSONSchema2020": (
        "JSON Schema, draft 2020-12, https://json-schema.org/draft/2020-12; from memory"
    ),
    "NGA2014": (
        "National Geospatial-Intelligence Agency, Department of Defense World Geodetic System "
        "1984, NGA.STND.0036 version 1.0.0 (2014)"
    ),
    "Moritz2000": (
        "H. Moritz, Geodetic Reference System 1980, J. Geodesy 74, 128-162 (2000), "
        "doi:10.1007/s001900050278, mean radius R1"
    ),
    "RFC5870": (
        "A. Mayrhofer and C. Spanring, A Uniform Resource Identifier for Geographic Locations "
        "('geo' URI), RFC 5870 (2010), doi:10.17487/RFC5870"
    ),
    "NGA2014a": (
        "National Geospatial-Intelligence Agency, The Universal Grids and the Transverse Mercator "
        "and Polar Stereographic Map Projections, NGA.SIG.0012 version 2.0.0 (2014)"
    ),
    "Ghilani2012": (
        "C. D. Ghilani and P. R. Wolf, Elementary Surveying, 13th ed., Pearson (2012), "
        "ISBN 978-0-13-255434-3, curvature and refraction"
    ),
    "Brunner1984": (
        "F. K. Brunner (ed.), Geodetic Refraction, Springer (1984), doi:10.1007/978-3-642-45583-4"
    ),
    "Dowell1971": (
        "M. Dowell and P. Jarratt, A modified regula falsi method for computing the root of an "
        "equation, BIT 11, 168-174 (1971), doi:10.1007/BF01934364"
    ),
    "Ridders1979": (
        "C. F. J. Ridders, A new algorithm for computing a single root of a real continuous "
        "function, IEEE Trans. Circuits Syst. 26, 979-980 (1979), doi:10.1109/TCS.1979.1084580"
    ),
    "Farr2007": (
        "T. G. Farr et al., The Shuttle Radar Topography Mission, Rev. Geophys. 45, RG2004 "
        "(2007), doi:10.1029/2005RG000183"
    ),
    "Rolstad2009": (
        "C. Rolstad, T. Haug and B. Denby, Spatially integrated geodetic glacier mass balance and "
        "its uncertainty based on geostatistical analysis, J. Glaciology 55 (2009), "
        "doi:10.3189/002214309789470950"
    ),
    "Hugonnet2022": (
        "R. Hugonnet et al., Uncertainty analysis of digital elevation models by spatial inference "
        "from stable terrain, IEEE JSTARS 15 (2022), doi:10.1109/JSTARS.2022.3188922; "
        "ranges as in the documentation of the library xDEM, estimation and modelling of spatial "
        "variograms"
    ),
    "CopernicusDEM": (
        "Airbus and ESA, Copernicus DEM Product Handbook; relative vertical accuracy below 2 m on "
        "slopes to 20 % and below 4 m above, 90 % linear error point to point within one square "
        "degree"
    ),
    "CopernicusTiles": (
        "Sinergise, Copernicus Digital Elevation Model datasets, readme of the public store "
        "copernicus-dem-30m (readme.html): names, widths by latitude, shared rows left out, ocean "
        "without tiles"
    ),
    "Hogg2010": (
        "D. W. Hogg, J. Bovy and D. Lang, Data analysis recipes: fitting a model to data (2010), "
        "arXiv:1008.4686, section 3, pruning outliers by a mixture"
    ),
    "Grushka1972": (
        "E. Grushka, Characterization of exponentially modified Gaussian peaks in chromatography, "
        "Anal. Chem. 44, 1733-1738 (1972), doi:10.1021/ac60319a011"
    ),
    "Douglas1973": (
        "D. H. Douglas and T. K. Peucker, Algorithms for the reduction of the number of points "
        "required to represent a digitized line or its caricature, Cartographica 10(2), 112-122 "
        "(1973), doi:10.3138/FM57-6770-U75U-7727; from memory"
    ),
    "Markley1988": (
        "F. L. Markley, Attitude determination using vector observations and the singular value "
        "decomposition, J. Astronaut. Sci. 36, 245-258 (1988)"
    ),
    "JCGM100": (
        "JCGM, Evaluation of measurement data: guide to the expression of uncertainty in "
        "measurement, JCGM 100:2008, rectangular distribution in section 4.3.7; propagation in "
        "section 5.1.2, which was not seen"
    ),
    "Reid2004": (
        "M. J. Reid and A. Brunthaler, The proper motion of Sagittarius A*. II, "
        "ApJ 616, 872 (2004), doi:10.1086/424960"
    ),
    "ESA1997": (
        "ESA, The Hipparcos and Tycho Catalogues, SP-1200 vol. 1, section 1.5.3 (1997), "
        "galactic to ICRS rotation"
    ),
    "Bennett1982": (
        "G. G. Bennett, The calculation of astronomical refraction in marine navigation, "
        "J. Navigation 35, 255 (1982), doi:10.1017/S0373463300022037; as in Meeus1998 eq. 16.3"
    ),
    "Meeus1998": (
        "J. Meeus, Astronomical Algorithms, 2nd ed., Willmann-Bell (1998), ISBN 0-943396-61-1"
    ),
    "Skyfield": (
        "B. Rhodes, Skyfield: high precision research-grade positions, Astrophysics Source "
        "Code Library ascl:1907.024"
    ),
    "IERS2010": (
        "G. Petit and B. Luzum (eds.), IERS Conventions (2010), IERS Technical Note 36, "
        "ISBN 3-89888-989-6; Earth orientation from IERS finals2000A (Bulletin A)"
    ),
    "DE421": (
        "W. M. Folkner, J. G. Williams and D. H. Boggs, The Planetary and Lunar Ephemeris "
        "DE 421, IPN Progress Report 42-178 (2009)"
    ),
    "USNO": "US Naval Observatory, Rise, Set, and Twilight Definitions",
    "USSA1976": "U.S. Standard Atmosphere, 1976, NOAA-S/T 76-1562",
    "EPSG3857": (
        "IOGP Publication 373-7-2, Geomatics Guidance Note 7 part 2, Coordinate Conversions "
        "and Transformations, method 1024, Popular Visualisation Pseudo-Mercator"
    ),
    "WMM2025": "NOAA NCEI and British Geological Survey, World Magnetic Model 2025",
    "Calabretta2002": (
        "M. R. Calabretta and E. W. Greisen, Representations of celestial coordinates in FITS, "
        "A&A 395, 1077 (2002), doi:10.1051/0004-6361:20021327, projections TAN and ZEA"
    ),
    "CIPA-DC-008": (
        "CIPA DC-008, Exchangeable image file format for digital still cameras (Exif), "
        "annex C, APEX units"
    ),
    "Greenleaf1950": (
        "A. R. Greenleaf, Photographic Optics, Macmillan (1950), hyperfocal distance and depth "
        "of field; cited at second hand, the page was not seen"
    ),
    "Michaud2016": (
        "F. Michaud, N-P-F rule, Societe Astronomique du Havre (2016); coefficients from "
        "secondary transcriptions, the primary was not seen"
    ),
    "Ray2002": (
        "S. F. Ray, Applied Photographic Optics, 3rd ed., Focal Press (2002), "
        "ISBN 0-240-51540-4, angle of view, projections and defocus; at second hand, the pages "
        "were not seen"
    ),
    "Urban2013": (
        "S. E. Urban and P. K. Seidelmann (eds.), Explanatory Supplement to the Astronomical "
        "Almanac, 3rd ed., University Science Books (2013), ISBN 978-1-891389-85-6, mean "
        "sidereal day"
    ),
    "KS1991": (
        "K. Krisciunas and B. E. Schaefer, A model of the brightness of moonlight, PASP 103, 1033 "
        "(1991), doi:10.1086/132921; good to 8 to 23 per cent; equations 1, 3, 8, 15 and "
        "19 to 21 by the numbers that public programs give them, equation 2 from memory"
    ),
    "Green1992": (
        "D. W. E. Green, Magnitude corrections for atmospheric extinction, International Comet "
        "Quarterly 14, 55-59 (1992), icq.eps.harvard.edu/ICQExtinct.html"
    ),
    "Schaefer1998": (
        "B. E. Schaefer, To the visual limits, Sky & Telescope 95 (5), 57 (1998), twilight term of "
        "the printed program VISLIMIT.BAS, lines 2260 to 2290; its extinction as public "
        "translations have it"
    ),
    "Patat2006": (
        "F. Patat, O. S. Ugolnikov and O. V. Postylyakov, UBVRI twilight sky brightness at "
        "ESO-Paranal, A&A 455, 385 (2006), doi:10.1051/0004-6361:20064992, table 1, "
        "fitted from 95 to 105 degrees; coefficients at second hand"
    ),
    "Andrew1979": (
        "A. M. Andrew, Another efficient algorithm for convex hulls in two dimensions, "
        "Inf. Process. Lett. 9, 216 (1979), doi:10.1016/0020-0190(79)90072-3"
    ),
    "Bessell1998": (
        "M. S. Bessell, F. Castelli and B. Plez, Model atmospheres broad-band colors, bolometric "
        "corrections and temperature calibrations for O-M stars, A&A 333, 231 (1998), table A2; "
        "the table at second hand"
    ),
    "Howell2006": (
        "S. B. Howell, Handbook of CCD Astronomy, 2nd ed., Cambridge University Press (2006), "
        "ISBN 978-0-521-61762-8, the CCD equation; at second hand"
    ),
    "Leinert1998": (
        "C. Leinert et al., The 1997 reference of diffuse night sky brightness, A&AS 127, 1 "
        "(1998), doi:10.1051/aas:1998105; values from memory, good to half a magnitude"
    ),
    "SI2019": (
        "BIPM, The International System of Units, 9th ed. (2019), ISBN 978-92-822-2272-0, "
        "defining constants"
    ),
    "SVG11": "W3C, Scalable Vector Graphics (SVG) 1.1, 2nd ed. (2011), chapters 8 and 9",
    "Anderson2012": (
        "E. Anderson and C. Francis, XHIP: An extended Hipparcos compilation, Astron. Lett. 38, "
        "331 (2012), doi:10.1134/S1063773712050015, CDS catalogue V/137D"
    ),
    "VanLeeuwen2007": (
        "F. van Leeuwen, Validation of the new Hipparcos reduction, A&A 474, 653 (2007), "
        "doi:10.1051/0004-6361:20078357, CDS catalogue I/311"
    ),
    "IAUIAG2007": (
        "IAU/IAG Working Group on Cartographic Coordinates and Rotational Elements, report (2007), "
        "doi:10.1007/s10569-007-9072-y, table 5: mean radius of the Moon 1737.4 +- 1 km; at second "
        "hand"
    ),
    "BlandHawthorn2016": (
        "J. Bland-Hawthorn and O. Gerhard, The Galaxy in context, ARA&A 54, 529 (2016), "
        "doi:10.1146/annurev-astro-081915-023441, section 5.1: thin disc 2.6 +- 0.5 kpc long and "
        "300 +- 50 pc high, the Sun 8.2 +- 0.1 kpc out and 25 +- 5 pc up; at second hand"
    ),
    "Dwek1995": (
        "E. Dwek et al., Morphology, near-infrared luminosity, and mass of the Galactic bulge "
        "from COBE DIRBE observations, ApJ 445, 716 (1995), doi:10.1086/175734; model G2, "
        "its lengths at second hand"
    ),
    "Stanek1996": (
        "K. Z. Stanek et al., Modelling the Galactic bar using red clump giants (1996), "
        "arXiv:astro-ph/9605162: 20 to 30 degrees from the line of sight, axes 3.5 : 1.5 : 1"
    ),
    "LAMOST2018": (
        "Three-dimensional structure of the Milky Way dust: modeling of LAMOST data (2018), "
        "arXiv:1803.10540, doi:10.3847/1538-4357/aabaef: dust 3192 pc long and 103 pc high, the "
        "Sun 23 pc above its middle"
    ),
    "Drimmel2001": (
        "R. Drimmel and D. N. Spergel, Three-dimensional structure of the Milky Way disk, ApJ "
        "556, 181 (2001), doi:10.1086/321556, dust 0.28 of the Sun's distance long"
    ),
    "Crossen2004": (
        "C. Crossen and G. Rhemann, Sky Vistas, Springer (2004), p. 125, "
        "doi:10.1007/978-3-7091-0626-6; place and size of the cloud as a public encyclopaedia has "
        "them after it"
    ),
    "Barnard1927": (
        "E. E. Barnard, A Photographic Atlas of Selected Regions of the Milky Way, Carnegie "
        "Institution (1927), dark object 78 (LDN 42 of Lynds1962); J2000 place and size as a "
        "public encyclopaedia has them"
    ),
    "Lynds1962": (
        "B. T. Lynds, Catalogue of dark nebulae, ApJS 7, 1 (1962), doi:10.1086/190072; places of "
        "the large dark clouds from memory"
    ),
    "Mallama2018": (
        "A. Mallama and J. L. Hilton, Computing apparent planetary magnitudes for The "
        "Astronomical Almanac, Astron. Comput. 25, 10 (2018), doi:10.1016/j.ascom.2018.08.002"
    ),
    "Ballesteros2012": (
        "F. J. Ballesteros, New insights into black bodies, EPL 97, 34008 (2012), "
        "doi:10.1209/0295-5075/97/34008, colour index to temperature"
    ),
    "IAUCSN2022": (
        "IAU Working Group on Star Names, IAU Catalog of Star Names (2022); names and "
        "Hipparcos numbers as in the list of the library Skyfield 1.55, Eltanin and Larawag "
        "(epsilon Scorpii) as in other public lists"
    ),
    "Held1962": (
        "M. Held and R. M. Karp, A dynamic programming approach to sequencing problems, J. Soc. "
        "Indust. Appl. Math. 10, 196-210 (1962), doi:10.1137/0110015"
    ),
    "Dijkstra1959": (
        "E. W. Dijkstra, A note on two problems in connexion with graphs, Numer. Math. 1, 269-271 "
        "(1959), doi:10.1007/BF01386390"
    ),
    "LozanoPerez1979": (
        "T. Lozano-Perez and M. A. Wesley, An algorithm for planning collision-free paths among "
        "polyhedral obstacles, Commun. ACM 22, 560-570 (1979), doi:10.1145/359156.359164"
    ),
    "Tobler1993": (
        "W. Tobler, Three presentations on geographical analysis and modeling, NCGIA technical "
        "report 93-1 (1993), hiking function and its factor 0.6 off the path; at second "
        "hand"
    ),
    "RFC5545": (
        "B. Desruisseaux (ed.), Internet Calendaring and Scheduling Core Object Specification "
        "(iCalendar), RFC 5545 (2009)"
    ),
    "RFC4180": (
        "Y. Shafranovich, Common Format and MIME Type for Comma-Separated Values (CSV) Files, "
        "RFC 4180 (2005)"
    ),
    "RFC7946": "H. Butler et al., The GeoJSON Format, RFC 7946 (2016)",
    "GPX11": "TopoGrafix, GPX 1.1 Schema Documentation (2004), topografix.com/GPX/1/1",
    "KML2008": "T. Wilson (ed.), OGC KML 2.2.0, Open Geospatial Consortium 07-147r2 (2008)",
    "GPKG": "OGC GeoPackage Encoding Standard, Open Geospatial Consortium 12-128",
    "TOML2021": "T. Preston-Werner, P. Gedam et al., TOML v1.0.0 (2021), toml.io/en/v1.0.0",
    "XML2008": "T. Bray et al. (eds.), Extensible Markup Language (XML) 1.0, 5th ed., W3C (2008)",
    "IEC61966-2-1": (
        "IEC 61966-2-1:1999, Colour management, default RGB colour space (sRGB); curve and "
        "luminance weights as the W3C prints them for WCAG 2.2, relative luminance"
    ),
    "ISO12234-2": (
        "ISO 12234-2:2001, Electronic still-picture imaging, removable memory, TIFF/EP image data "
        "format; numbers of the tags as libtiff and Pillow list them"
    ),
    "Marquardt1963": (
        "D. W. Marquardt, An algorithm for least-squares estimation of nonlinear parameters, "
        "J. Soc. Indust. Appl. Math. 11, 431-441 (1963), doi:10.1137/0111030"
    ),
    "Barbary2016": (
        "K. Barbary, SEP: Source Extractor as a library, J. Open Source Softw. 1 (6), 58 (2016), "
        "doi:10.21105/joss.00058"
    ),
    **LIGHT_REFERENCES,
    "OSMTags": (
        "OpenStreetMap contributors, OpenStreetMap wiki, Map features (CC BY-SA 2.0); 109 of the "
        "148 values asked for compared with the community's id-tagging-schema 6.19.2, the rarer "
        "ones from memory; the map's data under the Open Database Licence 1.0"
    ),
    "Geleyn1979": (
        "J.-F. Geleyn and A. Hollingsworth, An economical analytical method for the computation of "
        "the interaction between scattering and line absorption of radiation, Contributions to "
        "Atmospheric Physics 52, 1-16 (1979): random overlap of cloud layers (from memory)"
    ),
    "OSMUnits": (
        "OpenStreetMap contributors, OpenStreetMap wiki, Map features/Units, Key:height and "
        "Key:length (CC BY-SA 2.0)"
    ),
    "Santalo2004": (
        "L. A. Santalo, Integral Geometry and Geometric Probability, 2nd ed., Cambridge University "
        "Press (2004), ISBN 0-521-52344-3, mean breadth of a convex set (Cauchy); at second hand"
    ),
    "Julier2004": (
        "S. J. Julier and J. K. Uhlmann, Unscented filtering and nonlinear estimation, Proc. IEEE "
        "92, 401 (2004), doi:10.1109/JPROC.2003.823141, sigma points; from memory"
    ),
    "Birge1932": (
        "R. T. Birge, The calculation of errors by the method of least squares, Phys. Rev. 40, 207 "
        "(1932), doi:10.1103/PhysRev.40.207; from memory"
    ),
    "Wilson1931": (
        "E. B. Wilson and M. M. Hilferty, The distribution of chi-square, PNAS 17, 684 (1931), "
        "doi:10.1073/pnas.17.12.684, cube-root rule; from memory"
    ),
    "Bragg2011": (
        "D. C. Bragg, L. E. Frelich, R. T. Leverett, W. Blozan and D. J. Luthringer, The sine "
        "method: an alternative height measurement technique, USDA Forest Service Research Note "
        "SRS-22 (2011); the abstract was seen"
    ),
    "Curtis1968": (
        "R. O. Curtis and D. Bruce, Tree heights without a tape, J. Forestry 66, 60 (1968); at "
        "second hand, by C. J. Cieszewski, Speedier tree height measuring without taking "
        "horizontal distances"
    ),
    "Leverett2007": (
        "R. Leverett, New measurement method, Native Tree Society (2007), "
        "nativetreesociety.org/measure/notes/new_measurement_method.htm"
    ),
    "Brack1998": (
        "C. Brack and G. Wood, Forest Mensuration, Australian National University (1998), "
        "fennerschool-associated.anu.edu.au/mensuration, measuring tree height and leaning trees"
    ),
    "Ghilani2010": (
        "C. D. Ghilani, Adjustment Computations, 5th ed., Wiley (2010), ISBN 978-0-470-46491-5, "
        "azimuth observations and error ellipses; at second hand, the pages were not seen"
    ),
    "Bayley1946": (
        "G. V. Bayley and J. M. Hammersley, The effective number of independent observations in an "
        "autocorrelated time series, Suppl. J. R. Stat. Soc. 8, 184 (1946); at second hand"
    ),
    "VanDiggelen2015": (
        "F. van Diggelen and P. Enge, The world's first GPS MOOC and worldwide laboratory using "
        "smartphones, Proc. ION GNSS+ 2015, 361; as gps.gov quotes it, without the share of "
        "fixes within the radius; from memory"
    ),
    "UAX9": "M. Davis et al., Unicode Bidirectional Algorithm, Unicode Standard Annex 9",
}
"""Citation key to a line with DOI, ISBN or publisher."""
