"""Findings put together into topics: one for each place worth a look, many alike in one, none lost."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from takeoff.finding import Finding, Severity
from takeoff.model import Wall

NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "urn:bayfill:bcf")
"""Every id of a BCF file is a uuid5 of a name below this one."""
MOST_APART = 5
"""Walls of one code that still get a topic each; more are put together by storey."""
WHOLE_MODEL = "the whole model"

TOPIC_TYPES: Mapping[Severity, str] = {
    Severity.ERROR: "Error",
    Severity.WARNING: "Warning",
    Severity.INFO: "Information",
}
PRIORITIES: Mapping[Severity, str] = {Severity.ERROR: "High", Severity.WARNING: "Normal", Severity.INFO: "Low"}
STATUSES = ("Open", "Closed")
"""Every topic begins as the first; the second is declared so that a viewer can set it."""


@dataclass(frozen=True, slots=True, eq=False)
class Topic:
    """One topic with the findings that it stands for, at least one."""

    guid: str
    title: str
    description: str
    severity: Severity
    code: str
    findings: tuple[Finding, ...]


def topics_of(findings: Iterable[Finding], walls: Mapping[str, Wall]) -> tuple[Topic, ...]:
    """Topics in the order of severity, then as the findings come.

    Findings of one code and one wall make one topic. Where a code is met in more than `MOST_APART` walls they are put
    together by storey, and what is only information by code. walls: by GlobalId, in the order of the takeoff.
    """
    groups: dict[tuple[str, ...], list[Finding]] = {}
    for finding, places in _with_places(findings):
        groups.setdefault(_group_key(finding, places, walls), []).append(finding)
    order = list(Severity)[::-1]
    made = [_topic(key, group, walls) for key, group in groups.items()]
    return tuple(sorted(made, key=lambda topic: order.index(topic.severity)))


def _with_places(findings: Iterable[Finding]) -> list[tuple[Finding, int]]:
    """Each finding once, with the number of walls in which its code is met."""
    distinct = list(dict.fromkeys(findings))
    places: dict[tuple[str, Severity], set[str]] = {}
    for finding in distinct:
        places.setdefault((finding.code, finding.severity), set()).add(finding.wall_id or finding.element_id)
    return [(finding, len(places[finding.code, finding.severity])) for finding in distinct]


def _group_key(finding: Finding, places: int, walls: Mapping[str, Wall]) -> tuple[str, ...]:
    if finding.severity is Severity.INFO:
        return finding.code, finding.severity
    if places <= MOST_APART:
        return finding.code, finding.severity, "wall", finding.wall_id or finding.element_id
    wall = walls.get(finding.wall_id)
    return finding.code, finding.severity, "storey", wall.storey if wall is not None else ""


def _topic(key: tuple[str, ...], group: Sequence[Finding], walls: Mapping[str, Wall]) -> Topic:
    first = group[0]
    # What a topic is called by outlives its findings: mending one of many does not make the rest a new topic. The
    # first wall stands for the model, so that one code of two models is not one topic.
    return Topic(
        guid=guid_of(next(iter(walls), ""), *key),
        title=_title(key, group, walls),
        description=_description(group, walls),
        severity=first.severity,
        code=first.code,
        findings=tuple(group),
    )


def guid_of(*names: str) -> str:
    """A guid for BCF that is always the same for the same names."""
    return str(uuid.uuid5(NAMESPACE, "\n".join(names)))


def _title(key: tuple[str, ...], group: Sequence[Finding], walls: Mapping[str, Wall]) -> str:
    words = in_words(group[0].code)
    if len(group) == 1 or (len(key) > 2 and key[2] == "wall"):
        where = place_name(group[0], walls)
        return f"{words}: {where}" if len(group) == 1 else f"{words}, {len(group)} times: {where}"
    storey = key[3] if len(key) > 3 else ""
    return f"{words}, {len(group)} times" + (f": {storey}" if storey else "")


def in_words(code: str) -> str:
    """A finding's code as the beginning of a sentence.

    >>> in_words("opening-clear-of-studs")
    'Opening clear of studs'
    """
    return code.replace("-", " ").capitalize()


def place_name(finding: Finding, walls: Mapping[str, Wall]) -> str:
    """What a finding is about, as a reader of the model would call it."""
    wall = walls.get(finding.wall_id)
    parts = []
    if finding.element_id and finding.element_id != finding.wall_id:
        parts.append(finding.element_name or finding.element_id)
    if wall is not None:
        parts.append(wall.name or f"wall {wall.wall_id}")
        parts += [wall.storey] if wall.storey else []
    return ", ".join(parts) or finding.element_name or finding.element_id or WHOLE_MODEL


def _description(group: Sequence[Finding], walls: Mapping[str, Wall]) -> str:
    """What was found: the sentence itself for one, all of them with their places for several."""
    if len(group) == 1:
        return "\n".join([group[0].message, *facts(group[0], walls)])
    alike = len({each.message for each in group}) == 1
    lines = [group[0].message] if alike else []
    lines.append(f"Found {len(group)} times; a viewpoint and a comment for each.")
    for number, each in enumerate(group, start=1):
        lines.append(f"{number}. {place_name(each, walls)}" + ("" if alike else f": {each.message}"))
    return "\n".join(lines)


def facts(finding: Finding, walls: Mapping[str, Wall]) -> list[str]:
    """Lines with the wall, the element and the measured value of a finding."""
    lines = []
    wall = walls.get(finding.wall_id)
    if wall is not None:
        kind = f", type {wall.type_name}" if wall.type_name else ""
        storey = f", storey {wall.storey}" if wall.storey else ""
        lines.append(f"Wall: {wall.name or '(no name)'}{kind}{storey}, GlobalId {wall.wall_id}")
    if finding.element_id and finding.element_id != finding.wall_id:
        lines.append(f"Element: {finding.element_class} {finding.element_name or '(no name)'}, {finding.element_id}")
    if finding.measured is not None:
        limit = "" if finding.limit is None else f"; held against {finding.limit:.6g} {finding.unit}".rstrip()
        lines.append(f"Measured: {finding.measured:.6g} {finding.unit}".rstrip() + limit)
    lines.append(f"Code: {finding.code}")
    return lines
