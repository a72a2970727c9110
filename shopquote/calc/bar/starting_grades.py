"""The grades of a new shop, each value with its source."""

from shopquote.calc.bar.grades import Family, Grade

_EN_10025 = "EN 10025-2 table 7, up to 16 mm (public copy of the table)"
_EN_RANGE = (
    "most tensile EN 10025-2 table 7 (public copy); usual, and most yield two spreads above it: means of "
    "EN 1993-1-1:2022 annex E, from memory; no public page found"
)
_WIRE_1_4310 = "EN 10270-3 1.4310 on a spring maker's page"
_E_WIRE = (206, "EN 10270-1 on a spring maker's page")
_STEEL = (7850, "490 lb/ft3 (Iowa DOT IM 452.02)")
_GERE = "Gere, Mechanics of Materials 5th ed., appendix (public copy)"
_PRACTICE = "common practice, no source"
_E_EN = (210, "EN 1993-1-1, as a public guide to steel buildings quotes it")
# 4140: ehow.com/info_8180773_physical-properties-4140-steel.html; 1045, which is C45, 200 there:
# otaisteel.com/aisi-1045-medium-carbon-steel-uns-g10450.
_E_STEEL = (205, "within 190 to 210 GPa of such steels (public data sheets of 1045 and 4140)")
# 183 to 221 HB annealed, 3.45 MPa each (kmac-distribution.com/technical/o1-tool-steel.htm and
# easterntoolsteel.com/data/0-1_1.htm); O2, as hard, 370, 640, 22 %, S1, harder, 390, 690, 19 %
# (makeitfrom.com, Annealed-O2-Tool-Steel, Annealed-S1-Tool-Steel). E: coltmaterials.co.uk/o1-tool-steel,
# theworldmaterial.com/o1-tool-steel.
_O1 = (
    "tensile from 183 to 221 HB annealed (two tool steel sellers' pages); yields as annealed O2 and S1 have "
    "(an open table of materials), least and most common practice"
)
_O1_LONGER = "between annealed S1 and O2, 19 and 22 % (an open table of materials)"
_E_O1 = (193, "28 000 ksi, two tool steel sellers' pages")
_OPEN_TABLE = "an open table of materials"
_E_STAINLESS = (193, "28 000 000 psi, a public table of spring wire, 304 and 316")
_US_HANDBOOK = "typical values of a public metal-forming table; least and most common practice, no source"
_SAE = "estimated least values of bar, two steel stockholders' pages; usual and most common practice"
_SAE_12L14 = "60 to 75 and 70 to 85 ksi, 12 to 18 %, area 40 to 50 % (a stockholder's page); usual the middle"
_A276 = "ASTM A276 annealed (a bar seller's table)"
# EN 10088-3:2005 on a mill's technical cards: 1.4301 hot-formed to 160 mm 500 to 700 MPa, bright 600 to 850
# from 16 to 40 mm and to 950 below (scribd.com/document/282456768); 1.4305 500 to 750, 35 % (.../284157380).
_1_4305_CARD = "EN 10088-3 1.4305, hot-formed (a mill's technical card)"
_1_4305 = f"least and most tensile {_1_4305_CARD}; usual and most yield common practice"
_ALLOY = "typical values of a public table of alloy steels, annealed and normalised"
_B221 = "ASTM B221 (public table: 38 and 35 ksi)"
# harboraluminum.com/en/6061-aluminum: around 25 %; issuu.com/rahul146/docs/6061: 25 to 30 %.
_6061_O = "25 to 30 %, two public pages on 6061"
_6082 = "EN 755-2 to 5 mm (two extruders' pages: 250 and 290 to 295 MPa); usual and most common practice"
_6060 = "EN 755-2 to 3 mm and bar to 150 mm (three extruders' pages); usual and most common practice"
_C360 = "usual: half-hard rod, 45 and 58 ksi, 25 % (a foundry's page); least and most common practice"
_C260 = "within a brass mill's and a wire maker's pages (76 to 158 and 303 to 420 MPa annealed)"
_C110 = "within pages of soft copper (54 to 75 and 216 to 224 MPa, 45 to 56 %); most common practice"
_B500B = "500 and 540 least, 650 most yield (two public tables of B500B); usual common practice"
_TITANIUM_BAR = "a titanium seller's table of ASTM grades, least; usual and most common practice"
_TITANIUM_AREA = "a titanium maker's page, bar"
_STEEL_MAKER = "a steel maker's data sheet"
_SPRING_MAKER = "a spring maker's page"
_SPRING_SM = f"EN 10270-1 SM at 4 mm, {_SPRING_MAKER}; yields {_PRACTICE}"
# mollificiomodenese.it/glossario/acciaio-uni-en-10270-1-sm-sh-dh: 1740 to 1930 at 4 mm.
_SPRING_SH = f"EN 10270-1 SH at 4 mm, {_SPRING_MAKER}; yields {_PRACTICE}"
_SPRING_SL = "EN 10270-1 SL at 4 mm, from memory; no public page found"
# stahlbecker.de/node/126: 1500 above 3.5 to 4.25 mm, the most 15 % above; cecchi.com/composizione-materiali
# has 1500 to 1600.
_SPRING_1_4310 = f"EN 10270-3 1.4310 at 4 mm, a spring wire seller's page; yields {_PRACTICE}"
_STAINLESS = (7900, "EN 10088-1 (public copy of its table)")
_STAINLESS_316 = (8000, "EN 10088-1 (public copy of its table)")
_STAINLESS_STRENGTH = (
    "least ASTM A276 annealed (public table); most tensile EN 10088-3 1.4301 hot-formed (a mill's technical "
    "card), bright bar more; usual and most yield common practice, no source"
)
_316_STRENGTH = (
    "least ASTM A276 annealed (public table); most tensile EN 10088-3 1.4401 (a wire maker's data sheet, "
    "agst.de/4401); usual and most yield common practice, no source"
)

Sourced = tuple[float, str]
# Yield and tensile strength in MPa: least, usual, greatest; source of the least, source of the other two.
Range = tuple[tuple[float, float], tuple[float, float], tuple[float, float], str, str]


def _grade(
    name: str,
    family: Family,
    density: Sourced,
    strength: Range,
    e_gpa: Sourced,
    elongation: Sourced,
    ratio: float,
    *,
    reduction: Sourced | None = None,
    cold_bend: bool = True,
    paper: str = "",
    hollow: str = "",
) -> Grade:
    least, usual, most, source, range_source = strength
    sources = {
        "density_kg_m3": density[1],
        "yield_mpa": source,
        "tensile_mpa": source,
        "strength range": range_source,
        "e_gpa": e_gpa[1],
        "elongation_pct": elongation[1],
        "min_radius_ratio": _PRACTICE,
    }
    if reduction:
        sources["reduction_of_area_pct"] = reduction[1]
    return Grade(
        name=name,
        family=family,
        density_kg_m3=density[0],
        yield_mpa=least[0],
        tensile_mpa=least[1],
        e_gpa=e_gpa[0],
        elongation_pct=elongation[0],
        reduction_of_area_pct=reduction[0] if reduction else None,
        min_radius_ratio=ratio,
        sources=sources,
        cold_bend=cold_bend,
        yield_usual_mpa=usual[0],
        tensile_usual_mpa=usual[1],
        yield_most_mpa=most[0],
        tensile_most_mpa=most[1],
        paper=paper,
        paper_hollow=hollow,
    )


def _range(
    least: tuple[float, float],
    usual: tuple[float, float],
    most: tuple[float, float],
    source: str,
    range_source: str = _PRACTICE,
) -> Range:
    return least, usual, most, source, range_source


STARTING_GRADES: dict[str, Grade] = {
    grade.name: grade
    for grade in (
        _grade(
            "S235", "mild", _STEEL, _range((235, 360), (294, 432), (329, 510), _EN_10025, _EN_RANGE), _E_EN,
            (26, "EN 10025-2, 3 to 40 mm, on a steel maker's card"), 1.0,
            paper="EN 10025-2 S235JR", hollow="EN 10219-1 S235JRH",
        ),
        _grade(
            "S275", "mild", _STEEL, _range((275, 410), (344, 492), (385, 560), _EN_10025, _EN_RANGE), _E_EN,
            (23, "EN 10025-2, 3 to 40 mm, on a plate seller's page"), 1.0,
            paper="EN 10025-2 S275JR", hollow="EN 10219-1 S275J0H",
        ),
        _grade(
            "S355", "high-strength", _STEEL,
            _range((355, 470), (426, 541), (469, 630), _EN_10025, _EN_RANGE), _E_EN,
            (22, "EN 10025-2, 3 to 40 mm, on a public data page"), 1.5,
            paper="EN 10025-2 S355J2", hollow="EN 10219-1 S355J2H",
        ),
        _grade(
            "A36", "mild", _STEEL,
            _range(
                (250, 400), (375, 480), (427, 550), "ASTM A36 (public plate data sheet)",
                "usual: 1.5 and 1.2 of the least, AISC 341 table A3.2, hot-rolled bars (two public "
                "programs); most tensile ASTM A36, yield two spreads of 7 % (JCSS) above the usual",
            ),
            (200, "ASTM A36 (public plate data sheet)"),
            (20, "ASTM A36, 200 mm gauge (public plate data sheet)"), 1.0,
            paper="ASTM A36", hollow="ASTM A500 Grade B",
        ),
        _grade(
            "1018 CD", "mild", _STEEL, _range((370, 440), (430, 500), (550, 620), _SAE), (205, _OPEN_TABLE),
            (15, _SAE), 2.0, reduction=(40, _SAE), paper="ASTM A108 1018 cold drawn",
        ),
        _grade(
            "1045 HR", "alloy", _STEEL, _range((310, 570), (370, 640), (450, 720), _SAE), _E_STEEL,
            (16, _SAE), 2.0, reduction=(40, _SAE), paper="ASTM A576 1045 hot rolled",
        ),
        _grade(
            "C45", "alloy", _STEEL,
            _range((340, 620), (400, 690), (480, 780), f"EN 10083-2 C45+N to 16 mm, {_STEEL_MAKER}"),
            _E_STEEL, (14, f"EN 10083-2 C45+N to 16 mm, {_STEEL_MAKER}"), 2.0, paper="EN 10083-2 C45",
        ),
        _grade(
            "12L14", "mild", _STEEL, _range((414, 483), (465, 535), (517, 586), _SAE_12L14), _E_STEEL,
            (12, _SAE_12L14), 6.0, reduction=(40, _SAE_12L14), cold_bend=False, paper="ASTM A108 12L14",
        ),
        _grade(
            "4140 annealed", "alloy", _STEEL, _range((380, 600), (417, 655), (560, 800), _US_HANDBOOK),
            _E_STEEL, (26, _ALLOY), 2.0, reduction=(57, _ALLOY), paper="ASTM A29 4140 annealed",
        ),
        _grade(
            "4140 normalised", "alloy", _STEEL, _range((590, 920), (655, 1020), (790, 1150), _US_HANDBOOK),
            _E_STEEL, (18, _ALLOY), 4.0, reduction=(47, _ALLOY), paper="ASTM A29 4140 normalised",
        ),
        _grade(
            "O1 annealed", "tool", _STEEL, _range((340, 630), (380, 680), (450, 760), _O1, _O1),
            _E_O1, (20, _O1_LONGER), 4.0, paper="ASTM A681 O1 annealed",
        ),
        _grade(
            "B500B", "high-strength", _STEEL,
            _range((500, 540), (550, 630), (650, 720), _B500B),
            (200, "EN 1992-1-1 3.2.7(4), as open programs of concrete design quote it"),
            (14, "BS 4449:2005, five diameters (a stockholder's page)"), 2.0,
            paper="EN 10080 B500B",
        ),
        _grade(
            "spring wire", "alloy", _STEEL,
            _range((1300, 1530), (1390, 1630), (1480, 1730), _SPRING_SM),
            (206, f"EN 10270-1, {_SPRING_MAKER}"), (3, _PRACTICE), 1.0, paper="EN 10270-1 SM",
        ),
        _grade(
            "spring wire SL", "alloy", _STEEL,
            _range((1120, 1320), (1200, 1420), (1290, 1510), _SPRING_SL, _SPRING_SL),
            _E_WIRE, (3, _PRACTICE), 1.0, paper="EN 10270-1 SL",
        ),
        _grade(
            "spring wire SH", "alloy", _STEEL,
            _range((1480, 1740), (1560, 1835), (1640, 1930), _SPRING_SH),
            _E_WIRE, (3, _PRACTICE), 1.0, paper="EN 10270-1 SH",
        ),
        _grade(
            "spring wire stainless", "stainless", _STAINLESS,
            _range((1275, 1500), (1370, 1612), (1466, 1725), _SPRING_1_4310),
            (185, _WIRE_1_4310), (3, _PRACTICE), 1.0, paper="EN 10270-3 1.4310",
        ),
        _grade(
            "304", "stainless", _STAINLESS,
            _range(
                (205, 515), (290, 620), (450, 700), "ASTM A276 annealed (public table)", _STAINLESS_STRENGTH
            ),
            _E_STAINLESS, (40, _A276), 1.5, reduction=(50, _A276),
            paper="EN 10088-3 1.4301", hollow="EN 10296-2 1.4301",
        ),
        _grade(
            "316", "stainless", _STAINLESS_316,
            _range((205, 515), (290, 610), (450, 700), _A276, _316_STRENGTH),
            _E_STAINLESS, (40, _A276), 1.5, reduction=(50, _A276),
            paper="EN 10088-3 1.4401", hollow="EN 10296-2 1.4401",
        ),
        _grade(
            "303", "stainless", _STAINLESS, _range((190, 500), (290, 620), (450, 750), _1_4305, _1_4305),
            _E_STAINLESS, (35, _1_4305_CARD), 4.0, cold_bend=False, paper="EN 10088-3 1.4305",
        ),
        _grade(
            "6061-T6", "aluminium", (2700, _GERE),
            _range(
                (241, 262), (276, 310), (310, 350), _B221,
                f"usual {_GERE}; most {_PRACTICE}",
            ),
            (69, _GERE), (17, _GERE), 3.5, paper="ASTM B221 6061-T6",
        ),
        _grade(
            "6061-O", "aluminium", (2700, _GERE), _range((40, 110), (55, 124), (80, 150), _US_HANDBOOK),
            (69, _GERE), (25, _6061_O), 1.0, paper="ASTM B221 6061-O",
        ),
        _grade(
            "6082-T6", "aluminium", (2700, _6082), _range((250, 295), (290, 330), (330, 370), _6082),
            (70, _6082), (8, _6082), 4.0, paper="EN 755-2 EN AW-6082 T6",
        ),
        _grade(
            "6060-T66", "aluminium", (2700, _6060), _range((160, 215), (190, 235), (220, 260), _6060),
            (70, _6060), (8, _6060), 3.0, paper="EN 755-2 EN AW-6060 T66",
        ),
        _grade(
            "C360", "brass", (8500, _C360), _range((280, 360), (310, 400), (370, 460), _C360),
            (97, _C360), (25, _C360), 4.0, cold_bend=False, paper="ASTM B16 C36000",
        ),
        _grade(
            "C260 annealed", "brass", (8530, _C260), _range((90, 300), (110, 330), (150, 370), _C260),
            (110, _C260), (60, _C260), 1.0, paper="ASTM B927 C26000 annealed",
        ),
        _grade(
            "C110 annealed", "copper", (8900, _GERE), _range((50, 200), (69, 220), (110, 250), _C110),
            (117, _C110), (45, _C110), 1.0, paper="ASTM B187 C11000 annealed",
        ),
        _grade(
            "Ti grade 2", "titanium", (4500, _GERE),
            _range((275, 345), (340, 430), (410, 510), _TITANIUM_BAR),
            (103, "14.9 Msi (a titanium seller's page)"), (20, _TITANIUM_BAR), 2.5,
            reduction=(30, "ASTM B348, from memory; no public page found"), paper="ASTM B348 Grade 2",
        ),
        _grade(
            "Ti-6Al-4V", "titanium", (4430, "public data page"),
            _range((828, 895), (910, 980), (1000, 1070), _TITANIUM_BAR), (114, "16.5 Msi (public data page)"),
            (10, _TITANIUM_BAR), 4.0, reduction=(25, _TITANIUM_AREA), paper="ASTM B348 Grade 5",
        ),
    )
}  # fmt: skip
