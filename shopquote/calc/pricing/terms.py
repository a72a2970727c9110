"""The terms that a shop's quotes begin with, until the owner writes others.

They are stored as they stand here, in English. A paper in another language prints those that
are still these words in its own language; words of the owner's stay as typed.
"""

USUAL_LEAD_TIME = "3 weeks from deposit and approved drawing"
USUAL_TERMS = "Balance on collection. Prices hold for the quantities stated."
# Of a job that the shop brings or fits: nobody collects it.
TERMS_WHEN_TAKEN = "Balance on delivery. Prices hold for the quantities stated."
USUAL_DELIVERY = "Collected from the shop; delivery on request"
USUALLY_INCLUDED = "Material, making and finish as listed"
USUALLY_EXCLUDED = "Engineering, permits, site measuring and installation"
# Of a job that the shop fits: the usual words would take back what the price holds.
EXCLUDED_WHEN_FITTED = "Engineering and permits"

# Paper that sheets are laid out for.
PAPERS = ("A4", "Letter")
