"""The terms on quotes of a new shop, until the owner writes others.

They are stored in English as they are here. A paper in another language translates terms that are still these
words; the owner's own words are printed as typed.
"""

USUAL_LEAD_TIME = "3 weeks from deposit and approved drawing"
USUAL_TERMS = "Balance on collection. Prices hold for the quantities stated."
# For a job that the shop delivers or fits, in place of `USUAL_TERMS`, which speak of collection.
TERMS_WHEN_TAKEN = "Balance on delivery. Prices hold for the quantities stated."
USUAL_DELIVERY = "Collected from the shop; delivery on request"
USUALLY_INCLUDED = "Material, making and finish as listed"
USUALLY_EXCLUDED = "Engineering, permits, site measuring and installation"
# For a job that the shop fits, in place of `USUALLY_EXCLUDED`, which excludes installation.
EXCLUDED_WHEN_FITTED = "Engineering and permits"

# Paper sizes for which sheets are laid out.
PAPERS = ("A4", "Letter")
