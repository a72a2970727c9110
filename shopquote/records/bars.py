"""The columns that a quote asks for a job's own bars, as plain table constructs without mapped classes.

Mapping the classes of rack and orders takes 40 ms of the processor, and most jobs that are quoted have no
bars yet. `tests/records/test_bars.py` holds the names to the tables.
"""

from sqlalchemy import column, table

from shopquote.records.columns import LengthColumn, MoneyColumn

RACK = table(
    "rack_pieces",
    *map(column, ("code", "section_key", "grade", "state", "heat")),
    column("length", LengthColumn()),
    column("cost", MoneyColumn()),
)

# Every column that assigns a bar to a job: promised to it, used for it, ordered for it, logged on it.
OF_JOBS = tuple(
    table(name, column(key)).c[key]
    for name, key in (
        ("rack_pieces", "promised_job_id"),
        ("rack_pieces", "used_job_id"),
        ("rack_piece_jobs", "job_id"),
        ("order_line_jobs", "job_id"),
        ("bar_uses", "job_id"),
    )
)
