"""Work on joints that are not welds, and the length of their rivets."""

from collections.abc import Iterator

from shopquote.calc.job import JobSpec, JointKind, JointSpec
from shopquote.calc.pricing.work_items import WorkItem

# By kind of joint: operation, standard, and heats of one joint. Common practice, no source.
_WAYS: dict[JointKind, tuple[str, str, int]] = {
    "rivet": ("assembly", "joint.rivet", 0),
    "screw": ("assembly", "joint.screw", 0),
    "pin": ("assembly", "joint.pin", 0),
    "halved": ("fit-up", "joint.halved", 0),
    "tenon": ("fit-up", "joint.tenon", 0),
    "collar": ("forging", "joint.collar", 1),
    "forge weld": ("forging", "joint.forge-weld", 2),
}
# Shank length needed to form a snap head, in diameters: a rivet maker's page.
SNAP_HEAD = 1.5


def joint_minutes(job: JobSpec) -> Iterator[WorkItem]:
    """The joints of a job by the standards of their kinds; heats are counted in `forge_minutes`."""
    for joint in job.joints:
        operation, standard, _ = _WAYS[joint.kind]
        yield WorkItem(operation, f"make a joint: {joint.kind}", standard, "run", joint.count)


def joint_heats(job: JobSpec) -> int:
    """Number of heats that the joints of one set take."""
    return sum(_WAYS[joint.kind][2] * joint.count for joint in job.joints)


def rivet_mm(joint: JointSpec) -> float | None:
    """Length of a rivet under its head in mm: grip and 1.5 diameters; None where either is not given.

    >>> from shopquote.calc.units import Measure
    >>> rivet_mm(JointSpec("rivet", 4, Measure.parse("8", "mm"), Measure.parse("12", "mm")))
    24.0
    """
    if joint.kind != "rivet" or joint.dia is None or joint.grip is None:
        return None
    return joint.grip.length.mm_float + SNAP_HEAD * joint.dia.length.mm_float


def joint_words(joint: JointSpec) -> str:
    """A joint in words for the floor, with the length of its rivets."""
    size = f" {joint.dia.text}" if joint.dia is not None else ""
    grip = f", grip {joint.grip.text}" if joint.grip is not None else ""
    long = rivet_mm(joint)
    rivet = f", rivets {long:.4g} mm under the head for a snap head" if long is not None else ""
    joins = f", {' to '.join(joint.joins)}" if joint.joins else ""
    note = f", {joint.note}" if joint.note else ""
    return f"{joint.count} x {joint.kind}{size}{grip}{rivet}{joins}{note}"
