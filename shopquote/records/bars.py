"""Bars as a quote asks for them: by the names of tables and columns alone.

The classes of rack and orders take 40 ms of the processor to map, and what needs them, the bars that a job
has already, most jobs that are quoted have none of.
"""

from sqlalchemy import column, table

from shopquote.records.columns import LengthColumn, MoneyColumn

RACK = table(
    "rack_pieces",
    *map(column, ("code", "section_key", "grade", "state", "heat")),
    column("length", LengthColumn()),
    column("cost", MoneyColumn()),
)

# Every column by which a bar is some job's: promised to it, used for it, ordered for it, logged on it.
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
