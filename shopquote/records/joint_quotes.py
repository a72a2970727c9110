"""Tables of joint quotes, which put the quotes of several jobs on one paper."""

from datetime import date

from sqlalchemy import ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopquote.records.base import Base, at_least
from shopquote.records.quotes import Quote


class JointQuote(Base):
    """One revision of a joint quote.

    Its paper is made from the snapshots of the jobs' quotes, so that no figure is stored twice.
    """

    __tablename__ = "joint_quotes"
    __table_args__ = (UniqueConstraint("number", "revision"), at_least("revision", 1))

    number: Mapped[str]
    revision: Mapped[int]
    issued_on: Mapped[date]

    members: Mapped[list["JointQuoteMember"]] = relationship(
        cascade="all, delete-orphan", order_by="JointQuoteMember.position"
    )


class JointQuoteMember(Base):
    """One job's quote on a joint quote. A quote that did not change may be on the next revision too."""

    __tablename__ = "joint_quote_members"
    __table_args__ = (
        UniqueConstraint("joint_quote_id", "position"),
        UniqueConstraint("joint_quote_id", "quote_id"),
    )

    joint_quote_id: Mapped[int] = mapped_column(ForeignKey("joint_quotes.id", ondelete="CASCADE"))
    position: Mapped[int]
    quote_id: Mapped[int] = mapped_column(ForeignKey("quotes.id"), index=True)

    quote: Mapped[Quote] = relationship()
