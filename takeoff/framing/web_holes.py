"""Holes through members and hollows of building services: closed before anything is cut from the wall.

A punch-out in the web of a steel stud, or a hole bored through a timber one for a pipe, lets a wire through, not a
hose: it joins no bays, and the few cm3 that it holds are not counted. So holes through a side of a member are closed
that are
- up to 0.6 of that side's width across the wall (IRC R603.2.6.1: half the web's depth, at most 1 1/2 in, in
  load-bearing steel studs; IRC R602.6: 60 % of the stud's width bored in non-bearing timber studs; from memory), and
- up to 4 1/2 in long (IRC R603.2.6.1, from memory).
Larger holes are left open, and told. Holes across the depth, as between the members of a frame that is drawn as one
solid, are no holes through a web and are never closed.

What is hollow in a tube, a pipe, a duct or a box is no cavity: posts of hollow section and services are filled as if
they were solid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from geometry.perforations import Hole, has_handles, without_holes, without_inner_shells
from geometry.solids import Mesh
from takeoff.building import ModelPart
from takeoff.finding import Finding, Severity
from takeoff.framing.frame_faults import member_finding
from takeoff.framing.role_words import FRAMING_CLASSES, is_service

WIDEST = 0.6
"""Share of a side's width, see above."""
LONGEST = 0.1143
"""m, 4 1/2 in, see above."""
TUBE = 3.0
"""A hole that runs this many times farther than it is wide is the hollow of a tube."""
_SLACK = 1e-6
"""m; a hole of exactly that size is still closed however the model is turned."""
_ACROSS = 0.7
"""A hole whose axis lies nearer to the depth than this cosine runs across the wall."""


@dataclass(frozen=True, slots=True)
class Closed:
    """A member's solid with its small holes closed. closed: how many; left: those that were not."""

    mesh: Mesh
    closed: int
    left: tuple[Hole, ...]


def with_holes_closed(mesh: Mesh, part: ModelPart) -> Closed:
    """Close the holes of one closed mesh of an element by the rules above; wall axes, m."""
    if _is_hollow_ware(part):
        solid = without_holes(without_inner_shells(mesh), lambda hole: True)
        return Closed(solid.mesh, 0, ())
    if not has_handles(mesh):
        return Closed(mesh, 0, ())
    found = without_holes(mesh, _is_small)
    return Closed(found.mesh, len(found.filled), tuple(hole for hole in found.left if _through_web(hole)))


def _is_hollow_ware(part: ModelPart) -> bool:
    foreign = bool(part.ifc_class) and part.ifc_class.lower() not in FRAMING_CLASSES
    return foreign or is_service(part.ifc_class, part.name, part.type_name)


def _is_small(hole: Hole) -> bool:
    if not _through_web(hole):
        return False
    if hole.reach >= TUBE * max(hole.width, hole.length):
        return True
    return hole.width <= WIDEST * hole.face_width + _SLACK and hole.length <= LONGEST + _SLACK


def _through_web(hole: Hole) -> bool:
    return hole.mouths == 2 and abs(float(hole.axis[1])) < _ACROSS


def hole_findings(closed: Sequence[tuple[ModelPart, str, Closed]]) -> list[Finding]:
    """What was closed in all members together, and each member whose hole was left open. Text: the member's id."""
    findings: list[Finding] = []
    count = sum(one.closed for _, _, one in closed)
    members = sum(one.closed > 0 for _, _, one in closed)
    if count:
        message = (
            f"{count} holes through the webs of {members} members (up to {WIDEST:g} of the web's depth and "
            f"{LONGEST * 1000:.0f} mm long) were closed: they join no bays and take no volume."
        )
        findings.append(Finding("web-holes-closed", Severity.INFO, message, measured=float(count), unit="pieces"))
    for part, member_id, one in closed:
        if one.left:
            largest = max(one.left, key=lambda hole: hole.width * hole.length)
            message = (
                f"has a hole of {largest.width * 1000:.0f} x {largest.length * 1000:.0f} mm through it, larger than a "
                "punch-out; it was left open and joins the bays on both sides. Check the member."
            )
            findings.append(member_finding("web-hole-left-open", Severity.WARNING, message, part, member_id))
    return findings
