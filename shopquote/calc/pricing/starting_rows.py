"""The starting standards of a new shop: name, value, unit, spread in per cent, source.

Money is in the shop's currency. Figures marked invented or common practice are to be replaced by the shop's
own. `calc/pricing/standards.py` makes `Standard`s of the rows.
"""

# Name of the standard whose value is the common deviation of all hours of a job, one standard deviation in
# per cent.
COMMON_SPREAD = "labour.common-spread"
INVENTED = "invented starting figure: put your own on file"
PRACTICE = "common practice, no source"
DRILL_SPEED = (
    "HSS drilling speeds published by protocutter, laid out as in Machinery's Handbook; middle of the range"
)
DRILL_FEED = "HSS drilling feeds published by protocutter; middle of the range by diameter"
WIRE_035 = "ESAB MIG handbook: 0.035 in wire at 350 in/min melts 5.76 lb/h"
WIRE_ALUMINIUM = "a wire maker's handbook: 0.035 in wire at 350 in/min, 10,596 in/lb, melts 1.98 lb/h"
AS_MUCH_VOLUME = "common practice, no source: as much volume an hour as steel"
COOLER = "common practice, no source"
PICKLED = "common practice, no source: brushed and pickled, colour off"
BRUSHED = "common practice, no source: brushed before and after"
SMALL_WORK = "common practice, no source: 15 to 30 % on small work; ESAB assumes 45"
WELD_SHEET = "ESAB weld cost worksheet and filler metal handbook"
# Charts assume a rigid production saw; half of their figure is usual for a small shop's saw.
SAW_CHART = (
    "half of published bimetal band charts (sawblade.com; a saw maker's manual for stainless and tool)"
)

_Row = tuple[str, str, str, str, str]  # name, value, unit, spread in per cent, source

_RATES: tuple[_Row, ...] = tuple(
    (f"rate.{operation}", value, "money/h", "5", INVENTED)
    for operation, value in (
        ("milling", "48"), ("keyway", "48"), ("knurling", "46"), ("surface-grinding", "46"),
        ("sawing", "38"), ("bending", "42"), ("drilling", "40"), ("tapping", "40"), ("turning", "46"),
        ("forging", "48"), ("fit-up", "46"), ("welding", "50"), ("grinding", "40"), ("finishing", "38"),
        ("assembly", "36"), ("packing", "32"), ("delivery", "36"),
        ("office", "40"), ("checking", "42"), ("site", "48"),
    )
)  # fmt: skip

_SAWING: tuple[_Row, ...] = (
    ("saw.job-set-up", "5", "min/job", "30", PRACTICE),
    ("saw.stop-change", "1.5", "min/length", "30", PRACTICE),
    ("saw.mitre-change", "2", "min/angle", "30", PRACTICE),
    ("saw.bar-handling", "1.5", "min/bar", "30", PRACTICE),
    ("saw.cut-handling", "0.5", "min/cut", "30", "common practice, no source: 30 to 90 s a cut on small bar"),
    ("saw.bundle", "1", "bars/stroke", "0", "common practice, no source: 1, each bar on its own"),
    ("saw.bundle-width", "120", "mm", "0", "common practice, no source: a small vice, bars side by side"),
    ("saw.area-rate.mild", "29", "cm2/min", "25", SAW_CHART),
    ("saw.area-rate.high-strength", "20", "cm2/min", "25", SAW_CHART),
    ("saw.area-rate.alloy", "18", "cm2/min", "25", SAW_CHART),
    ("saw.area-rate.tool", "14", "cm2/min", "25", SAW_CHART),
    ("saw.area-rate.stainless", "8", "cm2/min", "25", SAW_CHART),
    ("saw.area-rate.aluminium", "60", "cm2/min", "25", PRACTICE),
    ("saw.area-rate.brass", "40", "cm2/min", "25", PRACTICE),
    ("saw.area-rate.copper", "25", "cm2/min", "25", PRACTICE),
    ("saw.area-rate.titanium", "6", "cm2/min", "25", PRACTICE),
    ("saw.blade-cost", "22", "money/m2", "25", INVENTED),
)

_BENDING: tuple[_Row, ...] = (
    ("bend.former-change", "6", "min/change", "30", PRACTICE),
    ("bend.bar-change", "4", "min/change", "30", PRACTICE),
    ("bend.first-piece", "5", "min/part", "40", "common practice, no source: bend, measure, correct"),
    ("bend.piece-handling", "0.35", "min/piece", "30", PRACTICE),
    ("bend.mass-handling", "0.04", "min/kg", "40", PRACTICE),
    ("bend.mark", "0.2", "min/bend", "30", PRACTICE),
    ("bend.stop", "3", "min/bend", "40", "common practice, no source: a stop clamped, tried, set again"),
    ("bend.at-stop", "0.05", "min/bend", "30", "common practice, no source: pushed against the stop"),
    ("bend.base", "0.4", "min/bend", "25", PRACTICE),
    ("bend.angle", "0.15", "min/90 deg", "25", PRACTICE),
    ("bend.size", "0.12", "min/bend per cm2", "30", PRACTICE),
    ("bend.turn", "0.5", "min/turn", "30", PRACTICE),
    ("bend.swap", "0.4", "min/swap", "30", PRACTICE),
    ("bend.hit", "0.25", "min/small bend", "30", PRACTICE),
    ("scroll.hit", "0.25", "min/small bend", "30", PRACTICE),
    (
        "scroll.former",
        "40",
        "min/former",
        "40",
        "common practice, no source: bent to the drawing, fixed to a plate, tried",
    ),
    (
        "scroll.wound",
        "0.04",
        "min/small bend",
        "35",
        "common practice, no source: wound in a pull, a turn in under a minute",
    ),
    ("twist.set-up", "4", "min/bar size", "40", PRACTICE),
    ("twist.piece", "1", "min/twist", "35", "common practice, no source: clamp, wrench, straighten"),
    ("twist.turn", "0.5", "min/turn", "35", PRACTICE),
    ("eye.set-up", "4", "min/size", "30", PRACTICE),
    ("eye.bend", "1.2", "min/bend", "35", "common practice, no source: an eye on a pin; its neck is another"),
    ("joggle.set-up", "6", "min/size", "30", PRACTICE),
    ("joggle.bend", "1.2", "min/joggle", "35", PRACTICE),
    ("fold.set-up", "4", "min/size", "30", PRACTICE),
    ("fold.bend", "5", "min/fold", "40", "common practice, no source: mark, saw a V, file, fold, square"),
    ("fold.weld", "0.6", "min/cm", "40", "common practice, no source: weld and dress, wire and gas in it"),
    ("coil.set-up", "15", "min/size", "40", "common practice, no source: mandrel and a test coil"),
    ("coil.piece", "2", "min/coil", "35", PRACTICE),
    ("coil.turn", "0.08", "min/turn", "35", "common practice, no source: slow lathe or crank"),
    ("coil.hit", "0.25", "min/small bend", "30", PRACTICE),
    ("coil.wound", "0.02", "min/small bend", "35", "common practice, no source: as a coil said to be wound"),
    ("forge.set-up", "20", "min/job", "30", PRACTICE),
    (
        "forge.heat",
        "2",
        "min/heat",
        "30",
        "common practice, no source: out of the fire, worked, put back; of bar 16 mm thick",
    ),
    ("forge.soak", "3", "min/heat and cm", "40", "common practice, no source: by thickness, reheats too"),
    ("forge.irons", "3", "pieces", "0", "common practice, no source: pieces in the fire at once"),
    ("forge.fuel", "0.60", "money/heat", "30", INVENTED),
)

_HOLES: tuple[_Row, ...] = (
    ("drill.job-set-up", "4", "min/job", "30", PRACTICE),
    ("drill.size-change", "2", "min/size", "30", PRACTICE),
    ("drill.layout", "0.6", "min/hole", "30", "common practice, no source: 20 to 60 s to lay out and punch"),
    ("drill.clamp", "0.5", "min/piece", "30", PRACTICE),
    ("drill.jig", "15", "min/jig", "40", "common practice, no source: a plate with a fence, tried once"),
    ("drill.jig-hole", "4", "min/hole", "40", "common practice, no source: laid out with care and drilled"),
    ("drill.in-jig", "0.1", "min/hole", "35", "common practice, no source: a jig slipped along or pinned"),
    ("drill.hollow", "0.4", "min/piece", "35", "common practice, no source: a vee block, wall from crushing"),
    ("drill.deburr-inside", "0.5", "min/hole", "40", "common practice, no source: the far burr, by a rod"),
    ("drill.deburr", "0.25", "min/hole", "30", "common practice, no source: 10 to 20 s, both sides"),
    ("drill.point-angle", "118", "deg", "0", "usual twist drill point; approach 0.30 of the diameter"),
    ("drill.speed.mild", "27", "m/min", "20", DRILL_SPEED),
    ("drill.speed.high-strength", "24", "m/min", "20", DRILL_SPEED),
    ("drill.speed.alloy", "20", "m/min", "20", DRILL_SPEED),
    ("drill.speed.tool", "14", "m/min", "20", DRILL_SPEED),
    ("drill.speed.stainless", "15", "m/min", "20", DRILL_SPEED),
    ("drill.speed.aluminium", "90", "m/min", "20", "a basic public table of drilling speeds"),
    ("drill.speed.brass", "60", "m/min", "20", "a basic public table of drilling speeds"),
    ("drill.speed.copper", "30", "m/min", "20", PRACTICE),
    ("drill.speed.titanium", "10", "m/min", "20", PRACTICE),
    ("drill.feed.3mm", "0.05", "mm/rev", "25", DRILL_FEED),
    ("drill.feed.6mm", "0.10", "mm/rev", "25", DRILL_FEED),
    ("drill.feed.13mm", "0.18", "mm/rev", "25", DRILL_FEED),
    ("drill.feed.25mm", "0.28", "mm/rev", "25", DRILL_FEED),
    ("drill.feed.over", "0.42", "mm/rev", "25", DRILL_FEED),
    ("drill.countersink", "0.4", "min/hole", "30", PRACTICE),
    ("drill.wear", "0.05", "money/hole", "30", INVENTED),
    ("tap.size-change", "2", "min/size", "30", PRACTICE),
    ("tap.hole", "1.5", "min/hole", "30", "common practice, no source: 1 to 2 min by hand"),
    ("tap.deep", "0.5", "min/cm", "35", "common practice, no source: thread beyond 1.5 diameters"),
    ("tap.wear", "0.12", "money/hole", "30", INVENTED),
    ("turn.set-up", "12", "min/bar size", "40", PRACTICE),
    ("turn.end", "4", "min/end", "35", PRACTICE),
    ("thread.set-up", "5", "min/bar size", "40", PRACTICE),
    ("thread.end", "2.5", "min/end", "35", PRACTICE),
    ("turn.metal", "4", "cm3/min", "40", PRACTICE),
    ("thread.surface", "0.1", "min/cm2", "40", PRACTICE),
    ("chamfer.end", "0.6", "min/end", "35", PRACTICE),
    ("round.end", "0.8", "min/end", "35", "common practice, no source: nose on the belt, its edges with it"),
    ("saddle.end", "6", "min/end", "40", "common practice, no source: mark by template, cut, grind to fit"),
    ("drill.counterbore", "0.7", "min/hole", "35", PRACTICE),
    ("drill.ream", "0.8", "min/hole", "35", PRACTICE),
    ("drill.slot", "1.5", "min/cm", "40", "common practice, no source: chain drilled and filed"),
    ("drift.hole", "1.5", "min/hole", "40", "common practice, no source: heats come beside it"),
)

_WELDING: tuple[_Row, ...] = (
    ("weld.job-set-up", "8", "min/job", "30", PRACTICE),
    (
        "weld.fit-up",
        "3",
        "min/joint",
        "35",
        "common practice, no source: marked, squared, clamped in light bar; a heavy cleat takes 5 or more",
    ),
    (
        "weld.long-piece",
        "1.85",
        "times",
        "0",
        "public workshop rates: a cleat of 0.4 to 1 m takes 12 min to mark and tack, a shorter one 6.5",
    ),
    ("weld.long-from", "400", "mm", "0", "public workshop rates: beyond 400 mm a piece takes the next row"),
    (
        "weld.square",
        "2",
        "min/m",
        "40",
        "common practice, no source; set so that a bench, gates and railings of others come within a fifth",
    ),
    ("weld.tacks", "2", "tacks/joint", "0", "common practice, no source: the least, one at each end"),
    ("weld.tack-spacing", "100", "mm", "0", "common practice, no source: 50 to 150 mm"),
    ("weld.jig", "30", "min/jig", "40", "common practice, no source: base, stops and clamps, tried once"),
    ("weld.jig-joint", "4", "min/joint", "40", "common practice, no source: two stops and a clamp set"),
    ("weld.in-jig", "0.6", "min/joint", "35", "common practice, no source: laid in, clamped, taken out"),
    ("weld.tack", "0.25", "min/tack", "30", PRACTICE),
    ("splice.fit-up", "5", "min/joint", "40", "common practice, no source: bevel, line up on a rail, tack"),
    ("splice.weld", "0.8", "min/cm", "40", "common practice, no source: all round and dressed, wire in it"),
    ("weld.turn", "0.6", "min/joint", "40", PRACTICE),
    ("weld.clean.MIG", "2", "min/m", "30", PRACTICE),
    ("weld.clean.MAG", "2", "min/m", "30", PRACTICE),
    ("weld.clean.TIG", "1", "min/m", "30", PRACTICE),
    ("weld.clean.MMA", "6", "min/m", "30", "common practice, no source: slag to chip"),
    ("weld.clean.FCAW", "5", "min/m", "30", "common practice, no source: slag to chip"),
    ("weld.clean.MIG.stainless", "5", "min/m", "35", PICKLED),
    ("weld.clean.MAG.stainless", "5", "min/m", "35", PICKLED),
    ("weld.clean.TIG.stainless", "4", "min/m", "35", PICKLED),
    ("weld.clean.MIG.aluminium", "3", "min/m", "35", BRUSHED),
    ("weld.clean.MAG.aluminium", "3", "min/m", "35", BRUSHED),
    ("weld.clean.TIG.aluminium", "3", "min/m", "35", BRUSHED),
    ("weld.reinforcement", "15", "%", "30", "common practice, no source: convexity, 10 to 20 %"),
    ("weld.groove-angle", "60", "deg", "0", PRACTICE),
    ("weld.root-gap", "2", "mm", "0", PRACTICE),
    ("weld.deposition.MIG", "2.6", "kg/h", "20", WIRE_035),
    ("weld.deposition.MAG", "2.6", "kg/h", "20", WIRE_035),
    ("weld.deposition.TIG", "0.45", "kg/h", "25", "common practice, no source: 0.5 to 1.5 lb/h"),
    ("weld.deposition.MMA", "1.2", "kg/h", "25", "common practice, no source: half of E7018 3/16 in"),
    ("weld.deposition.FCAW", "3.0", "kg/h", "20", "common practice, no source: small wire"),
    ("weld.deposition.MIG.stainless", "2.3", "kg/h", "25", f"{COOLER}: a tenth less than steel"),
    ("weld.deposition.MAG.stainless", "2.3", "kg/h", "25", f"{COOLER}: a tenth less than steel"),
    ("weld.deposition.TIG.stainless", "0.40", "kg/h", "25", f"{COOLER}: a tenth less than steel"),
    ("weld.deposition.MMA.stainless", "1.1", "kg/h", "25", f"{COOLER}: a tenth less than steel"),
    ("weld.deposition.FCAW.stainless", "2.7", "kg/h", "25", f"{COOLER}: a tenth less than steel"),
    ("weld.deposition.MIG.aluminium", "0.90", "kg/h", "20", WIRE_ALUMINIUM),
    ("weld.deposition.MAG.aluminium", "0.90", "kg/h", "20", WIRE_ALUMINIUM),
    ("weld.deposition.TIG.aluminium", "0.16", "kg/h", "30", AS_MUCH_VOLUME),
    ("weld.deposition.MMA.aluminium", "0.41", "kg/h", "30", AS_MUCH_VOLUME),
    ("weld.travel.MIG", "500", "mm/min", "25", "common practice, no source: a hand guides 300 to 600"),
    ("weld.travel.MAG", "500", "mm/min", "25", "common practice, no source: a hand guides 300 to 600"),
    ("weld.travel.FCAW", "450", "mm/min", "25", "common practice, no source: a hand guides 300 to 500"),
    ("weld.travel.MMA", "250", "mm/min", "25", "common practice, no source: a rod runs at 150 to 300"),
    ("weld.travel.TIG", "120", "mm/min", "25", "common practice, no source: 75 to 150 with a filler rod"),
    ("weld.pass-leg", "8", "mm", "0", "most in one horizontal pass, by stick: AWS D1.1:2020 table 5.1"),
    ("weld.operating-factor.MIG", "30", "%", "25", SMALL_WORK),
    ("weld.operating-factor.MAG", "30", "%", "25", SMALL_WORK),
    ("weld.operating-factor.TIG", "30", "%", "25", PRACTICE),
    ("weld.operating-factor.MMA", "25", "%", "25", "common practice, no source: ESAB assumes 30"),
    ("weld.operating-factor.FCAW", "30", "%", "25", "common practice, no source: ESAB assumes 45"),
    ("weld.efficiency.MIG", "96", "%", "3", WELD_SHEET),
    ("weld.efficiency.MAG", "93", "%", "3", WELD_SHEET),
    ("weld.efficiency.TIG", "95", "%", "3", PRACTICE),
    ("weld.efficiency.MMA", "72", "%", "5", "stub apart; with it 62 %, a 14 in rod, ESAB"),
    ("weld.efficiency.FCAW", "86", "%", "3", WELD_SHEET),
    ("weld.stub-loss.MMA", "14.3", "%", "10", "2 in stub of a 14 in rod, ESAB lesson 9"),
    ("weld.gas-flow.MIG", "13", "L/min", "20", "ESAB filler metal handbook: 25 to 30 cubic feet/h"),
    ("weld.gas-flow.MAG", "13", "L/min", "20", "ESAB filler metal handbook: 25 to 30 cubic feet/h"),
    ("weld.gas-flow.TIG", "8", "L/min", "20", "common practice, no source: 15 to 20 cubic feet/h"),
    ("weld.gas-flow.FCAW", "16.5", "L/min", "20", "ESAB filler metal handbook: 35 cubic feet/h"),
    ("weld.filler-price.MIG", "3.40", "money/kg", "10", INVENTED),
    ("weld.filler-price.MAG", "3.40", "money/kg", "10", INVENTED),
    ("weld.filler-price.TIG", "9.50", "money/kg", "10", INVENTED),
    ("weld.filler-price.MMA", "4.20", "money/kg", "10", INVENTED),
    ("weld.filler-price.FCAW", "5.60", "money/kg", "10", INVENTED),
    ("weld.filler-price.MIG.stainless", "14", "money/kg", "15", INVENTED),
    ("weld.filler-price.MAG.stainless", "14", "money/kg", "15", INVENTED),
    ("weld.filler-price.TIG.stainless", "19", "money/kg", "15", INVENTED),
    ("weld.filler-price.MMA.stainless", "17", "money/kg", "15", INVENTED),
    ("weld.filler-price.FCAW.stainless", "21", "money/kg", "15", INVENTED),
    ("weld.filler-price.MIG.aluminium", "13", "money/kg", "15", INVENTED),
    ("weld.filler-price.MAG.aluminium", "13", "money/kg", "15", INVENTED),
    ("weld.filler-price.TIG.aluminium", "17", "money/kg", "15", INVENTED),
    ("weld.filler-price.MMA.aluminium", "28", "money/kg", "15", INVENTED),
    ("weld.gas-flow.MIG.aluminium", "18", "L/min", "20", "common practice, no source: 35 to 40 cubic feet/h"),
    ("weld.gas-flow.MAG.aluminium", "18", "L/min", "20", "common practice, no source: 35 to 40 cubic feet/h"),
    ("weld.gas-price", "9", "money/m3", "10", INVENTED),
    ("grind.weld-share", "50", "%", "0", "common practice, no source: share that is dressed"),
    ("grind.weld", "6", "min/m", "35", PRACTICE),
    ("grind.edge", "3", "min/m", "30", "common practice, no source: 5 to 15 s a sawn end"),
    ("grind.disc-cost", "0.90", "money/m", "30", INVENTED),
)  # fmt: skip

_FINISHING: tuple[_Row, ...] = (
    ("finish.prepare", "12", "min/m2", "35", PRACTICE),
    ("finish.hang", "0.4", "min/piece", "30", PRACTICE),
    *(
        row
        for kind, set_up, coat, price in (
            ("paint", "15", "14", "16"),
            ("oil", "5", "6", "9"), ("wax", "5", "10", "24"), ("powder", "30", "10", "11"),
        )
        for row in (
            (f"finish.set-up.{kind}", set_up, "min/job", "30", PRACTICE),
            (f"finish.coat.{kind}", coat, "min/m2 and coat", "35", PRACTICE),
            (f"finish.price.{kind}", price, "money/kg" if kind == "powder" else "money/L", "10", INVENTED),
        )
    ),
    *(
        row
        for kind, solids, film in (
            ("paint", "50", "50"),
            ("oil", "60", "20"), ("wax", "40", "10"),
        )
        for row in (
            (f"finish.solids.{kind}", solids, "% of volume", "10", PRACTICE),
            (f"finish.film.{kind}", film, "um dry", "20", PRACTICE),
            (f"finish.transfer.{kind}", "35" if kind == "paint" else "80", "%", "25",
             "common practice, no source: 20 to 40 % sprayed on open bar work"),
        )
    ),
    ("finish.density.powder", "1.5", "kg/L", "5", PRACTICE),
    ("finish.film.powder", "70", "um dry", "20", PRACTICE),
    ("finish.transfer.powder", "60", "%", "25", PRACTICE),
)  # fmt: skip

_THE_REST: tuple[_Row, ...] = (
    ("joint.rivet", "2", "min/joint", "35", "common practice, no source: set, head over, dress"),
    ("joint.screw", "0.8", "min/joint", "35", PRACTICE),
    ("joint.pin", "1.2", "min/joint", "35", PRACTICE),
    ("joint.halved", "10", "min/joint", "40", "common practice, no source: saw, file and fit both halves"),
    ("joint.tenon", "4", "min/joint", "40", "common practice, no source: fit and head over a forged tenon"),
    ("joint.collar", "6", "min/joint", "40", "common practice, no source: a heat comes beside it"),
    ("joint.forge-weld", "4", "min/joint", "40", "common practice, no source: scarfs; two heats beside it"),
    ("assembly.item", "0.8", "min/bought item", "30", PRACTICE),
    ("assembly.screwed", "0.6", "min/bought item", "30", "common practice, no source: driven, hole there"),
    (
        "assembly.bagged",
        "0.05",
        "min/bought item",
        "30",
        "common practice, no source: counted by handfuls into a bag, 20 a minute",
    ),
    ("packing.job", "8", "min/job", "30", PRACTICE),
    ("packing.set", "0.6", "min/set", "40", "common practice, no source: small things go by the carton"),
    ("packing.piece", "0.1", "min/piece", "40", "common practice, no source: laid together, tied"),
    (
        "packing.mass",
        "0.1",
        "min/kg",
        "40",
        "common practice, no source: a panel of 40 kg wrapped and carried in 4 min",
    ),
    ("packing.material", "0.06", "money/kg", "30", INVENTED),
    ("delivery.job", "0", "min/job", "0", "0: collected by the customer"),
    ("office.drawing", "0", "min/job", "0", "0: not charged until the shop puts its own on file"),
    ("office.buying", "0", "min/job", "0", "0: not charged until the shop puts its own on file"),
    ("checking.job", "0", "min/job", "0", "0: not charged until the shop puts its own on file"),
    ("site.travel", "0", "min/job", "0", "0: collected by the customer; all who go, there and back"),
    ("site.fitting", "0", "min/job", "0", "0: not fitted by the shop; all who fit"),
    ("site.fitting-hour", "60", "min/h", "25", "60: an hour that the job names, until the shop has measured"),
    ("site.drive", "1.2", "min/km", "25", "common practice, no source: 50 km an hour from door to door"),
    ("site.vehicle", "0.45", "money/km", "20", INVENTED),
    ("outside.carriage", "0", "money/job", "0", "0: not charged until the shop puts its own on file"),
    ("outside.zinc", "6", "%", "30", "a Spanish galvanizers' association: zinc picked up, of the black mass"),
    ("run.least", "10", "pieces", "0", "common practice, no source: fewer are marked one by one"),
    (COMMON_SPREAD, "35", "%", "0", "common practice, no source: all hours of a job off together"),
    ("learning.rate", "95", "%", "0", "common practice, no source: bench metal work 85 to 95 %"),
    *(
        (f"material.price.{family}", price, "money/kg", "15", INVENTED)
        for family, price in (
            ("mild", "1.35"), ("high-strength", "1.60"), ("alloy", "2.40"), ("tool", "6.50"),
            ("stainless", "5.20"), ("aluminium", "6.00"), ("brass", "9.50"), ("copper", "12.50"),
            ("titanium", "38"),
        )
    ),
    ("price.material", "1", "times", "6", "common practice, no source: prices move meanwhile"),
    ("price.bought", "1", "times", "3", PRACTICE),
    ("price.outside", "1", "times", "5", PRACTICE),
    ("price.old-after", "90", "days", "0", "common practice, no source: metal is quoted for weeks"),
)  # fmt: skip

STARTING_ROWS: tuple[_Row, ...] = (
    *_RATES, *_SAWING, *_BENDING, *_HOLES, *_WELDING, *_FINISHING, *_THE_REST
)  # fmt: skip

# Former source texts of starting standards: a standard on file with one of these is not the shop's own.
FORMER_SOURCES: dict[str, tuple[str, ...]] = {
    "forge.heat": (PRACTICE, "common practice, no source: out of the fire, worked, put back"),
    "forge.soak": ("common practice, no source: in the fire, by thickness",),
    "round.end": (PRACTICE,),
    "weld.fit-up": ("common practice, no source: bench work, small joints",),
    "weld.tacks": (PRACTICE,),
    "packing.set": (PRACTICE,),
    "packing.mass": (PRACTICE,),
}
