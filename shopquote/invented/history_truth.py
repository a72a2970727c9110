"""The truth of the invented history: how long work really takes, and its people, things and customers."""

from collections.abc import Mapping

BY_HAND = ""  # in place of a standard's name: minutes that the owner put into the job by hand
# True time of each standard as a factor of the starting standard: set-ups above 1, repeated work below.
TRUTH: Mapping[str, float] = {
    "saw.job-set-up": 2.4, "saw.stop-change": 2.2, "saw.bar-handling": 0.75, "saw.cut-handling": 0.7,
    "bend.former-change": 2.3, "bend.bar-change": 2.0, "bend.first-piece": 2.5, "bend.piece-handling": 0.7,
    "bend.mark": 0.75, "bend.base": 0.7, "bend.angle": 0.8,
    "drill.job-set-up": 2.5, "drill.size-change": 2.0, "drill.layout": 0.75, "drill.clamp": 0.65,
    "weld.job-set-up": 2.6, "weld.fit-up": 0.75, "weld.tack": 0.7, "weld.turn": 0.75, "weld.clean.MAG": 0.7,
    "grind.edge": 1.3, "grind.weld": 0.8,
    "finish.set-up.paint": 2.2, "finish.prepare": 0.75, "finish.coat.paint": 0.8,
    "packing.job": 2.4, "packing.set": 0.7,
    BY_HAND: 2.2,  # set-ups that the owner guessed
}  # fmt: skip
# Operation, standard, set-up or run, and the key of `_Maker._counts` that the standard is multiplied by.
DRIVERS: tuple[tuple[str, str, str, str], ...] = (
    ("sawing", "saw.job-set-up", "set-up", "one"),
    ("sawing", "saw.stop-change", "set-up", "lengths"),
    ("sawing", "saw.bar-handling", "run", "bars"),
    ("sawing", "saw.cut-handling", "run", "pieces"),
    ("bending", "bend.former-change", "set-up", "formers"),
    ("bending", "bend.bar-change", "set-up", "lengths"),
    ("bending", "bend.first-piece", "set-up", "bent_parts"),
    ("bending", "bend.piece-handling", "run", "bent_pieces"),
    ("bending", "bend.mark", "run", "bends"),
    ("bending", "bend.base", "run", "bends"),
    ("bending", "bend.angle", "run", "right_angles"),
    ("drilling", "drill.job-set-up", "set-up", "drills"),
    ("drilling", "drill.size-change", "set-up", "hole_sizes"),
    ("drilling", "drill.layout", "run", "holes"),
    ("drilling", "drill.clamp", "run", "drilled_pieces"),
    ("fit-up", BY_HAND, "set-up", "jig_minutes"),
    ("fit-up", "weld.fit-up", "run", "joints"),
    ("fit-up", "weld.tack", "run", "tacks"),
    ("welding", "weld.job-set-up", "set-up", "welds"),
    ("welding", "weld.turn", "run", "joints"),
    ("welding", "weld.clean.MAG", "run", "weld_metres"),
    ("grinding", BY_HAND, "set-up", "grinder_minutes"),
    ("grinding", "grind.edge", "run", "edges"),
    ("grinding", "grind.weld", "run", "dressed_metres"),
    ("finishing", "finish.set-up.paint", "set-up", "painted"),
    ("finishing", "finish.prepare", "run", "area"),
    ("finishing", "finish.coat.paint", "run", "area"),
    ("packing", "packing.job", "set-up", "one"),
    ("packing", "packing.set", "run", "sets"),
)
# Set-ups without a standard, for which the owner puts minutes into the job by hand, and their `_counts` keys.
GUESSED = {"fit-up": "jig_minutes", "grinding": "grinder_minutes"}
THINGS = ("gate hinges", "shelf brackets", "railing panels", "garden hoops", "tool racks", "table frames",
           "plant stands", "coat rails", "fire screens", "trellis frames")  # fmt: skip
CUSTOMERS = (
    "Harrow Field Nursery",
    "Millbeck Joinery",
    "Stanwick Parish",
    "Low Ferry Boatyard",
    "Cobble Row Homes",
    "Ashen Gate Farm",
    "Priory Lane School",
    "Gannet House",
    "Tansy and Thorne",
    "Wharf Nine Studio",
    "Elder Bank Allotments",
    "Saltmarsh Rail Trust",
)
PEOPLE = ("Wyn", "Ebba", "Tomas", "Ilse")
BARS = (
    "round 8",
    "round 10",
    "round 12",
    "round 16",
    "square 12",
    "square 16",
    "flat 30 x 5",
    "flat 40 x 8",
    "flat 50 x 6",
    "tube 33.7 x 2.6",
)
REASONS = ("cut short", "bent the wrong way", "weld cracked", "drawing misread")
