"""One opened model file with what every step of the reading needs from it."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from takeoff.finding import Finding, Severity
from takeoff.reading.attributes import word
from takeoff.reading.bodies import Bodies
from takeoff.reading.faults import BROKEN_ENTITY, described
from takeoff.reading.materials import Materials
from takeoff.reading.opening_file import open_model_file
from takeoff.reading.placements import Matrix, Placements
from takeoff.reading.units_of_file import FileUnits, read_units

Progress = Callable[[str, int, int], None]


class Identities:
    """GlobalIds that are given once only: a model may repeat or omit them, and all results are found by them."""

    def __init__(self) -> None:
        self._owner: dict[str, int] = {}
        self._given: dict[int, str] = {}
        self.repeated: list[Any] = []

    def of(self, entity: Any) -> str:
        """The GlobalId of an entity; with its step number added where an earlier entity has the same or it has none."""
        number = entity.id()
        known = self._given.get(number)
        if known is not None:
            return known
        own = word(entity, "GlobalId")
        if not own or self._owner.setdefault(own, number) != number:
            self.repeated.append(entity)
            own = f"{own}#{number}"
        self._given[number] = own
        return own


@dataclass(slots=True)
class Findings:
    """Collects findings during one reading."""

    path: str
    found: list[Finding] = field(default_factory=list)

    def add(
        self,
        code: str,
        message: str,
        element: Any = None,
        wall_id: str = "",
        warning: bool = True,
        place: tuple[float, float, float] | None = None,
    ) -> None:
        """Note a flaw or a decision. element: the entity it is about. place: m, world, where to look."""
        self.found.append(
            Finding(
                code=code,
                severity=Severity.WARNING if warning else Severity.INFO,
                message=message if element is None else f"{described(element)}: {message}",
                wall_id=wall_id,
                element_id="" if element is None else (word(element, "GlobalId") or f"#{element.id()}"),
                element_class="" if element is None else element.is_a(),
                element_name="" if element is None else word(element, "Name"),
                place=place,
            )
        )


@dataclass(slots=True)
class ModelFile:
    """An opened file, its units, and the makers of bodies, placements and materials that go with it."""

    path: str
    entities: Any
    units: FileUnits
    placements: Placements
    bodies: Bodies
    materials: Materials
    identities: Identities
    findings: Findings
    progress: Progress | None
    parser_faults: tuple[str, ...] = ()
    processes: int = 1
    """Among how many the reading of many elements is shared out."""
    _ids_differ: bool | None = None

    @property
    def name(self) -> str:
        return Path(self.path).name

    def report(self, stage: str, done: int, total: int) -> None:
        if self.progress is not None:
            self.progress(stage, done, total)

    def ids_differ(self) -> bool:
        """Whether every element has a GlobalId of its own: else which of two keeps it depends on what is read first."""
        if self._ids_differ is None:
            self._ids_differ = _all_differ(self.of_class("IfcProduct"))
        return self._ids_differ

    def of_class(self, *names: str) -> list[Any]:
        """Occurrences of the classes and all their subclasses, each once, in file order.

        A class that the schema does not have has no occurrences.
        """
        found: dict[int, Any] = {}
        for name in names:
            try:
                entities = self.entities.by_type(name)
            except RuntimeError:
                continue
            for entity in entities:
                found[entity.id()] = entity
        return [found[key] for key in sorted(found)]


def _all_differ(elements: list[Any]) -> bool:
    seen: set[str] = set()
    for element in elements:
        try:
            own = word(element, "GlobalId")
        except BROKEN_ENTITY:
            return False
        if not own or own in seen:
            return False
        seen.add(own)
    return True


def load(path: str | os.PathLike[str], findings: Findings, progress: Progress | None, processes: int = 1) -> ModelFile:
    """Open a file and read its units. Raises ReadingError as `open_model_file` and `read_units` do."""
    entities, faults = open_model_file(path)
    units = read_units(entities, str(path))
    placements = Placements(units.length)
    return ModelFile(
        path=str(path),
        entities=entities,
        units=units,
        placements=placements,
        bodies=Bodies(placements, units.length),
        materials=Materials(entities, units),
        identities=Identities(),
        findings=findings,
        progress=progress,
        parser_faults=faults,
        processes=processes,
    )


def moved(model: ModelFile, to_world: Matrix) -> ModelFile:
    """The same file with its bodies brought to another origin by a (4, 4) matrix, m."""
    return ModelFile(
        path=model.path,
        entities=model.entities,
        units=model.units,
        placements=model.placements,
        bodies=Bodies(model.placements, model.units.length, to_world),
        materials=model.materials,
        identities=model.identities,
        findings=model.findings,
        progress=model.progress,
        parser_faults=model.parser_faults,
        processes=model.processes,
    )
