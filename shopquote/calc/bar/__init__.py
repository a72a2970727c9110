"""One part: its section, grade, shape and developed length, and how it is bent, holed and its ends worked."""
