"""Tables of jobs and their revisions; values keep their typed text, so that a `JobSpec` comes back exactly.

The columns of a revision and its rows are the fields of `reading.job_fields`, described in `calc.job`.
"""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, UniqueConstraint, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopquote.calc.job import (
    BEND_AXES,
    DIMS,
    JOINT_KINDS,
    LABOUR_PERS,
    OUTSIDE_BASES,
    ROLLED,
    TOES,
    USES,
    WELD_KINDS,
)
from shopquote.calc.units import UNITS, Length, Unit
from shopquote.records.base import Base, Money, Number, above_zero, at_least, one_of
from shopquote.records.people import Customer


def _rows(of: str) -> Any:
    """A relationship to rows ordered by `position`, which are deleted with their parent."""
    return relationship(cascade="all, delete-orphan", order_by=f"{of}.position")


JOB_STATES = ("asked", "quoted", "won", "started", "finished", "closed", "lost", "dropped")


class Job(Base):
    """A job; its content is in its revisions, of which `revision` is the newest."""

    __tablename__ = "jobs"
    __table_args__ = (
        one_of("state", JOB_STATES),
        at_least("revision", 1),
        Index("ix_jobs_state_created_on", "state", "created_on"),
    )

    number: Mapped[str] = mapped_column(unique=True)
    customer_id: Mapped[int] = mapped_column(ForeignKey("customers.id"), index=True)
    state: Mapped[str] = mapped_column(default="asked")
    revision: Mapped[int] = mapped_column(default=1)
    created_on: Mapped[date]

    customer: Mapped[Customer] = relationship()
    revisions: Mapped[list["JobRevision"]] = relationship(
        back_populates="job", cascade="all, delete-orphan", order_by="JobRevision.revision"
    )
    state_changes: Mapped[list["StateChange"]] = relationship(
        back_populates="job", cascade="all, delete-orphan", order_by="StateChange.id"
    )


class StateChange(Base):
    """A change of a job's state, when and why; `from_state` is None for a new job."""

    __tablename__ = "state_changes"
    __table_args__ = (one_of("from_state", JOB_STATES), one_of("to_state", JOB_STATES))

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id", ondelete="CASCADE"), index=True)
    from_state: Mapped[str | None]
    to_state: Mapped[str]
    at: Mapped[datetime]
    reason: Mapped[str] = mapped_column(default="")

    job: Mapped[Job] = relationship(back_populates="state_changes")


class JobRevision(Base):
    """One revision of a job, as typed. `customer` is the name in the file, `source` the file's whole text."""

    __tablename__ = "job_revisions"
    __table_args__ = (
        UniqueConstraint("job_id", "revision"),
        one_of("units", UNITS),
        one_of("use", USES),
        *(at_least(name, 1) for name in ("sets", "revision", "assemblies")),
    )

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id", ondelete="CASCADE"))
    revision: Mapped[int]
    made_at: Mapped[datetime | None]
    title: Mapped[str]
    customer: Mapped[str]
    units: Mapped[str]
    use: Mapped[str] = mapped_column(default="general")
    sets: Mapped[int]
    breaks: Mapped[list[Any]] = mapped_column(JSON, default=list)
    due: Mapped[date | None]
    description: Mapped[str] = mapped_column(default="", server_default="")
    note: Mapped[str] = mapped_column(default="", server_default="")
    drawing: Mapped[str] = mapped_column(default="", server_default="")
    enquiry: Mapped[str] = mapped_column(default="", server_default="")
    assemblies: Mapped[int] = mapped_column(default=1, server_default="1")
    reason: Mapped[str] = mapped_column(default="")
    source: Mapped[str] = mapped_column(default="")

    job: Mapped[Job] = relationship(back_populates="revisions")
    parts: Mapped[list["PartRow"]] = _rows("PartRow")
    welds: Mapped[list["WeldRow"]] = _rows("WeldRow")
    bought: Mapped[list["BoughtItem"]] = _rows("BoughtItem")
    outside: Mapped[list["OutsideWork"]] = _rows("OutsideWork")
    labour: Mapped[list["LabourLine"]] = _rows("LabourLine")
    finish: Mapped["FinishRow | None"] = relationship(cascade="all, delete-orphan")
    site: Mapped["SiteRow | None"] = relationship(cascade="all, delete-orphan")
    steps: Mapped[list["StepRow"]] = _rows("StepRow")
    templates: Mapped[list["TemplateRow"]] = _rows("TemplateRow")
    joints: Mapped[list["JointRow"]] = _rows("JointRow")

    @property
    def unit(self) -> Unit:
        """The unit of its bare lengths."""
        return "in" if self.units == "in" else "mm"


class PartRow(Base):
    """One part of a set. `developed`, `cut` and `mass_kg` are as calculated when the revision was stored."""

    __tablename__ = "parts"
    __table_args__ = (
        UniqueConstraint("job_revision_id", "mark"),
        Index("ix_parts_section_key_grade", "section_key", "grade"),
        *map(one_of, ("dims", "bend_axis", "rolled", "toes"), (DIMS, BEND_AXES, ROLLED, TOES)),
        at_least("per_set", 1),
        *(at_least(name, 0) for name in ("turned", "threaded", "heats")),
        *(above_zero(name) for name in ("length", "hold", "width")),
    )

    job_revision_id: Mapped[int] = mapped_column(ForeignKey("job_revisions.id", ondelete="CASCADE"))
    position: Mapped[int]
    mark: Mapped[str]
    name: Mapped[str]
    per_set: Mapped[int]
    bar: Mapped[str]
    section_key: Mapped[str]
    grade: Mapped[str]
    dims: Mapped[str] = mapped_column(default="outside")
    shape: Mapped[str | None]
    length: Mapped[Length | None]
    length_text: Mapped[str | None]
    bend_axis: Mapped[str] = mapped_column(default="easy")
    end_a: Mapped[str] = mapped_column(default="square")
    end_a_mitre: Mapped[Number] = mapped_column(default=Decimal(0))
    end_a_work: Mapped[str] = mapped_column(default="", server_default="")
    end_b: Mapped[str] = mapped_column(default="square")
    end_b_mitre: Mapped[Number] = mapped_column(default=Decimal(0))
    end_b_work: Mapped[str] = mapped_column(default="", server_default="")
    one_heat: Mapped[bool] = mapped_column(default=False)
    turned: Mapped[int] = mapped_column(default=0, server_default="0")
    threaded: Mapped[int] = mapped_column(default=0, server_default="0")
    drawing: Mapped[str] = mapped_column(default="", server_default="")
    note: Mapped[str] = mapped_column(default="", server_default="")
    heats: Mapped[int | None]
    hold: Mapped[Length | None]
    hold_text: Mapped[str | None]
    splice: Mapped[bool] = mapped_column(default=False, server_default=false())
    width: Mapped[Length | None]
    width_text: Mapped[str | None]
    rolled: Mapped[str] = mapped_column(default="along", server_default="along")
    toes: Mapped[str] = mapped_column(default="out", server_default="out")
    developed: Mapped[Length | None]
    cut: Mapped[Length | None]
    mass_kg: Mapped[Number | None]

    bends: Mapped[list["PartBend"]] = _rows("PartBend")
    holes: Mapped[list["PartHole"]] = _rows("PartHole")


class PartBend(Base):
    """One bend as calculated: signed angle in degrees, inside radius, mark of its middle, number of hits."""

    __tablename__ = "part_bends"
    __table_args__ = (UniqueConstraint("part_id", "position"),)

    part_id: Mapped[int] = mapped_column(ForeignKey("parts.id", ondelete="CASCADE"))
    position: Mapped[int]
    angle: Mapped[Number]
    radius: Mapped[Length]
    mark: Mapped[Length]
    hits: Mapped[int] = mapped_column(default=1)


class PartHole(Base):
    """Holes of one kind in one piece. `at` and `across` are texts as typed, in the unit of the revision."""

    __tablename__ = "part_holes"
    __table_args__ = (
        UniqueConstraint("part_id", "position"),
        above_zero("dia"),
        above_zero("slot"),
        above_zero("deep"),
        above_zero("counterbore"),
        above_zero("countersink"),
        at_least("count", 1),
        at_least("leg", 1),
    )

    part_id: Mapped[int] = mapped_column(ForeignKey("parts.id", ondelete="CASCADE"))
    position: Mapped[int]
    dia: Mapped[Length | None]
    dia_text: Mapped[str | None]
    count: Mapped[int]
    tapped: Mapped[bool] = mapped_column(default=False)
    countersunk: Mapped[bool] = mapped_column(default=False)
    thread: Mapped[str] = mapped_column(default="", server_default="")
    leg: Mapped[int] = mapped_column(default=1, server_default="1")
    at: Mapped[list[Any]] = mapped_column(JSON, default=list, server_default="[]")
    across: Mapped[list[Any]] = mapped_column(JSON, default=list, server_default="[]")
    slot: Mapped[Length | None]
    slot_text: Mapped[str | None]
    deep: Mapped[Length | None]
    deep_text: Mapped[str | None]
    along: Mapped[bool] = mapped_column(default=False, server_default=false())
    reamed: Mapped[bool] = mapped_column(default=False, server_default=false())
    drifted: Mapped[bool] = mapped_column(default=False, server_default=false())
    counterbore: Mapped[Length | None]
    counterbore_text: Mapped[str | None]
    countersink: Mapped[Length | None]
    countersink_text: Mapped[str | None]
    walls: Mapped[int] = mapped_column(default=0, server_default="0")
    pattern: Mapped[str] = mapped_column(default="", server_default="")
    note: Mapped[str] = mapped_column(default="", server_default="")
    face: Mapped[str] = mapped_column(default="", server_default="")


class WeldRow(Base):
    """Welds of one kind and size in a set."""

    __tablename__ = "welds"
    __table_args__ = (
        UniqueConstraint("job_revision_id", "position"),
        one_of("kind", WELD_KINDS),
        *(at_least(name, 1) for name in ("count", "joints", "passes")),
        *(at_least(name, 0) for name in ("leg", "length")),
    )

    job_revision_id: Mapped[int] = mapped_column(ForeignKey("job_revisions.id", ondelete="CASCADE"))
    position: Mapped[int]
    kind: Mapped[str]
    leg: Mapped[Length]
    leg_text: Mapped[str]
    length: Mapped[Length]
    length_text: Mapped[str]
    count: Mapped[int]
    process: Mapped[str]
    note: Mapped[str] = mapped_column(default="")
    joins: Mapped[list[Any]] = mapped_column(JSON, default=list, server_default="[]")
    joints: Mapped[int | None]
    passes: Mapped[int] = mapped_column(default=1, server_default="1")
    at: Mapped[list[Any]] = mapped_column(JSON, default=list, server_default="[]")


class BoughtItem(Base):
    """A bought item of a set, with its cost in the shop's currency."""

    __tablename__ = "bought_items"
    __table_args__ = (
        UniqueConstraint("job_revision_id", "position"),
        at_least("per_set", 1),
        at_least("unit_cost", 0),
    )

    job_revision_id: Mapped[int] = mapped_column(ForeignKey("job_revisions.id", ondelete="CASCADE"))
    position: Mapped[int]
    name: Mapped[str]
    per_set: Mapped[int]
    unit_cost: Mapped[Money]
    fitting: Mapped[str] = mapped_column(default="", server_default="")


class OutsideWork(Base):
    """Subcontract work of a job; the columns are those of `OutsideSpec`."""

    __tablename__ = "outside_works"
    __table_args__ = (
        UniqueConstraint("job_revision_id", "position"),
        one_of("basis", OUTSIDE_BASES),
        *(at_least(name, 0) for name in ("rate", "minimum", "carriage")),
    )

    job_revision_id: Mapped[int] = mapped_column(ForeignKey("job_revisions.id", ondelete="CASCADE"))
    position: Mapped[int]
    name: Mapped[str]
    basis: Mapped[str]
    rate: Mapped[Money]
    minimum: Mapped[Money] = mapped_column(default=Decimal(0))
    coating: Mapped[str] = mapped_column(default="", server_default="")
    carriage: Mapped[Money | None]


class LabourLine(Base):
    """Minutes added by hand to an operation."""

    __tablename__ = "labour_lines"
    __table_args__ = (
        UniqueConstraint("job_revision_id", "position"),
        one_of("per", LABOUR_PERS),
        at_least("minutes", 0),
    )

    job_revision_id: Mapped[int] = mapped_column(ForeignKey("job_revisions.id", ondelete="CASCADE"))
    position: Mapped[int]
    operation: Mapped[str]
    minutes: Mapped[Number]
    per: Mapped[str]


class FinishRow(Base):
    """The finish put on in the shop; at most one in a revision."""

    __tablename__ = "finishes"
    __table_args__ = (at_least("coats", 0),)

    job_revision_id: Mapped[int] = mapped_column(
        ForeignKey("job_revisions.id", ondelete="CASCADE"), unique=True
    )
    kind: Mapped[str]
    coats: Mapped[int] = mapped_column(default=1)


class SiteRow(Base):
    """Work on site; at most one in a revision. `distance` is in km, for a job in inches in miles."""

    __tablename__ = "site_works"
    __table_args__ = (
        *(at_least(name, 0) for name in ("hours", "distance", "cost")),
        *(at_least(name, 1) for name in ("people", "journeys")),
    )

    job_revision_id: Mapped[int] = mapped_column(
        ForeignKey("job_revisions.id", ondelete="CASCADE"), unique=True
    )
    hours: Mapped[Number]
    people: Mapped[int] = mapped_column(default=1)
    distance: Mapped[Number] = mapped_column(default=Decimal(0))
    journeys: Mapped[int] = mapped_column(default=1)
    cost: Mapped[Money] = mapped_column(default=Decimal(0))


class StepRow(Base):
    """One step in the order of making."""

    __tablename__ = "job_steps"
    __table_args__ = (UniqueConstraint("job_revision_id", "position"),)

    job_revision_id: Mapped[int] = mapped_column(ForeignKey("job_revisions.id", ondelete="CASCADE"))
    position: Mapped[int]
    text: Mapped[str]
    operation: Mapped[str] = mapped_column(default="")
    marks: Mapped[list[Any]] = mapped_column(JSON, default=list)


class TemplateRow(Base):
    """A jig or template made once for the job, and the standards whose work it replaces."""

    __tablename__ = "job_templates"
    __table_args__ = (
        UniqueConstraint("job_revision_id", "position"),
        at_least("minutes", 0),
        at_least("cost", 0),
    )

    job_revision_id: Mapped[int] = mapped_column(ForeignKey("job_revisions.id", ondelete="CASCADE"))
    position: Mapped[int]
    name: Mapped[str]
    minutes: Mapped[Number]
    cost: Mapped[Money] = mapped_column(default=Decimal(0))
    replaces: Mapped[list[Any]] = mapped_column(JSON, default=list)


class JointRow(Base):
    """Joints of one kind and size in a set that are not welds."""

    __tablename__ = "job_joints"
    __table_args__ = (
        UniqueConstraint("job_revision_id", "position"),
        one_of("kind", JOINT_KINDS),
        at_least("count", 1),
        above_zero("dia"),
        above_zero("grip"),
    )

    job_revision_id: Mapped[int] = mapped_column(ForeignKey("job_revisions.id", ondelete="CASCADE"))
    position: Mapped[int]
    kind: Mapped[str]
    count: Mapped[int]
    dia: Mapped[Length | None]
    dia_text: Mapped[str | None]
    grip: Mapped[Length | None]
    grip_text: Mapped[str | None]
    joins: Mapped[list[Any]] = mapped_column(JSON, default=list)
    note: Mapped[str] = mapped_column(default="")
