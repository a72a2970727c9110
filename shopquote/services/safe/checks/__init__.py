"""`shopquote db check`: every rule that must hold between the records, checked from the records alone.

To add a check, write a function of one `Session` in the module of its subject that yields a `Found` for every
fault, with its cure where there is one right answer, and list it in `CHECKS`.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sqlalchemy.orm import Session

from shopquote.errors import InputError
from shopquote.services.safe.checks.customers import papers_of_money_fit, went_out_as_ordered
from shopquote.services.safe.checks.days import days_make_sense, moments_make_sense
from shopquote.services.safe.checks.doubles import names_stand_once
from shopquote.services.safe.checks.file import (
    file_is_sound,
    references_are_whole,
    schema_is_known,
    values_are_of_their_kind,
)
from shopquote.services.safe.checks.found import CERTIFICATES, Check, CheckResult, Found
from shopquote.services.safe.checks.history import history_is_unbroken
from shopquote.services.safe.checks.jobs import (
    closings_fit_their_jobs,
    counters_are_not_behind,
    jobs_have_their_revision,
    states_follow_events,
    typed_texts_give_their_values,
)
from shopquote.services.safe.checks.log import entries_add_up, entries_fit_their_jobs, minutes_add_up
from shopquote.services.safe.checks.orders import (
    certificate_files_are_whole,
    deliveries_are_as_ordered,
    order_states_follow_deliveries,
    orders_add_up,
    received_counts_agree,
)
from shopquote.services.safe.checks.quotes import (
    costs_add_up,
    joint_quotes_are_whole,
    quote_lines_add_up,
    quotes_fit_their_jobs,
)
from shopquote.services.safe.checks.rack import (
    bar_is_accounted_for,
    deliveries_lie_on_the_rack,
    heats_run_along_cuts,
    pieces_are_promised_once,
)
from shopquote.services.safe.checks.sealed import (
    closings_are_as_sealed,
    orders_are_as_sealed,
    quotes_are_as_sealed,
)
from shopquote.services.safe.checks.texts import texts_are_shown

__all__ = ["CHECKS", "Check", "CheckResult", "Found", "cure", "faults_of", "run_checks"]

# Each round mends the faults that a check lists (MOST_LINES of each kind): 500 rounds mend 10,000. Were a
# cure to make new faults without end, it stops there and they are reported.
MOST_ROUNDS = 500

# The order matters for cures: a later check may rely on what an earlier one has mended.
CHECKS: tuple[Check, ...] = (
    Check("the file is sound", file_is_sound),
    Check("references are whole", references_are_whole),
    Check("the schema is this program's", schema_is_known),
    Check("values are of their column's kind", values_are_of_their_kind),
    Check("days make sense", days_make_sense),
    Check("moments make sense", moments_make_sense),
    Check("running numbers are not behind", counters_are_not_behind),
    Check("jobs have their newest revision", jobs_have_their_revision),
    Check("states are as their events left them", states_follow_events),
    Check("typed texts give their values", typed_texts_give_their_values),
    Check("quotes are as they were sealed", quotes_are_as_sealed),
    Check("orders are as they were sealed", orders_are_as_sealed),
    Check("closings are as they were sealed", closings_are_as_sealed),
    Check("printed quotes add up", quote_lines_add_up),
    Check("quotes fit their jobs", quotes_fit_their_jobs),
    Check("joint quotes are whole", joint_quotes_are_whole),
    Check("orders add up", orders_add_up),
    Check("deliveries agree with orders", received_counts_agree),
    Check("orders stand as their deliveries left them", order_states_follow_deliveries),
    Check("deliveries are of what was ordered", deliveries_are_as_ordered),
    Check("certificate files are whole", certificate_files_are_whole),
    Check("costs add up", costs_add_up),
    Check("closings fit their jobs", closings_fit_their_jobs),
    Check("minutes add up", minutes_add_up),
    Check("entries add up", entries_add_up),
    Check("entries fit their jobs", entries_fit_their_jobs),
    Check("no more went out than was ordered", went_out_as_ordered),
    Check("invoices and payments fit", papers_of_money_fit),
    Check("deliveries lie on the rack", deliveries_lie_on_the_rack),
    Check("no piece is promised twice", pieces_are_promised_once),
    Check("heats run along cuts", heats_run_along_cuts),
    Check("all bar is accounted for", bar_is_accounted_for),
    Check("the history is unbroken", history_is_unbroken),
    Check("nothing stands twice in two spellings", names_stand_once),
    Check("texts hold no control characters", texts_are_shown),
)


def run_checks(
    session: Session, certificates: Path | None = None, checks: Sequence[Check] = CHECKS
) -> tuple[CheckResult, ...]:
    """The results of the checks, in order; certificate files are read only where their folder is given."""
    session.info[CERTIFICATES] = certificates
    return tuple(CheckResult(check.name, faults_of(session, check)) for check in checks)


def faults_of(session: Session, check: Check) -> tuple[Found, ...]:
    """The faults that one check finds.

    A damaged value may raise an error within the check (an earlier check names the value): that is reported
    as one more fault, and the other checks still run.
    """
    found: list[Found] = []
    try:
        found.extend(check.find_faults(session))
    except (ValueError, TypeError, ArithmeticError, LookupError, InputError) as error:
        found.append(Found(f"could not be looked at to the end: {error}"))
    return tuple(found)


def cure(
    session: Session, certificates: Path | None = None, checks: Sequence[Check] = CHECKS
) -> tuple[CheckResult, ...]:
    """Mend every fault that has one right answer; returns the results of the checks after it.

    The caller commits.
    """
    session.info[CERTIFICATES] = certificates
    mended = {check.name: _cure(session, check) for check in checks}
    results = run_checks(session, certificates, checks)
    return tuple(replace(result, mended=mended[result.name]) for result in results)


def _cure(session: Session, check: Check) -> tuple[str, ...]:
    done: dict[str, None] = {}
    for _ in range(MOST_ROUNDS):
        # A fault that is found again after its cure is left: the cure does not help, and would loop.
        found = [fault for fault in faults_of(session, check) if fault.cure and fault.text not in done]
        for fault in found:
            assert fault.cure is not None
            fault.cure(session)
            done[fault.text] = None
        session.flush()
        # Cures write by UPDATE statements that the loaded objects know nothing of.
        session.expire_all()
        if not found:
            break
    return tuple(done)
