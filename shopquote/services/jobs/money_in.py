"""Money invoiced to customers and received from them, by job, summed in the database."""

from datetime import date
from typing import Any, NamedTuple

from sqlalchemy import BigInteger, case, cast, func, literal, select, type_coerce
from sqlalchemy.orm import Session

from shopquote.records.logs import Invoice, Payment

# Tables, not classes: see `job_list`.
_INVOICES, _PAYMENTS = Invoice.__table__.c, Payment.__table__.c


class MoneyIn(NamedTuple):
    """One job's invoices before tax, in units of stored money (1/10,000).

    `overdue` is unpaid invoices past their due day less the job's credits, at least 0.
    """

    billed: int = 0
    credited: int = 0
    paid: int = 0
    overdue: int = 0

    @property
    def invoiced(self) -> int:
        """Invoices less credits."""
        return self.billed - self.credited


def money_in(session: Session, ids: Any = None, *, today: date | None = None) -> dict[int, MoneyIn]:
    """Sums by job id, for jobs that have invoices; `ids` is a select of job ids, None takes all.

    Unpaid invoices with a due day before `today` are overdue; without `today` nothing is.
    """
    # Stored whole numbers are summed as they are: decoding each to a Decimal takes far longer than the sum.
    amount = type_coerce(_INVOICES.amount, BigInteger)
    paid_of = (
        select(_PAYMENTS.invoice_id, func.sum(type_coerce(_PAYMENTS.amount, BigInteger)).label("paid"))
        .group_by(_PAYMENTS.invoice_id)
        .subquery("paid_of")
    )
    paid = func.coalesce(paid_of.c.paid, 0)
    late = literal(False) if today is None else _INVOICES.due_on < today
    is_invoice = _INVOICES.kind == "invoice"
    sums: list[Any] = [
        case((is_invoice, amount), else_=0),
        case((is_invoice, 0), else_=amount),
        paid,
        case((is_invoice & late, amount - paid), else_=0),
    ]
    query: Any = (
        select(_INVOICES.job_id, *(cast(func.sum(one), BigInteger) for one in sums))
        .select_from(Invoice.__table__.outerjoin(paid_of, paid_of.c.invoice_id == _INVOICES.id))
        .group_by(_INVOICES.job_id)
    )
    if ids is not None:
        query = query.where(_INVOICES.job_id.in_(ids))
    rows: Any = session.connection().execute(query)
    return {
        key: MoneyIn(billed, credited, received, max(0, overdue - credited))
        for key, billed, credited, received, overdue in rows
    }
