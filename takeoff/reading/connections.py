"""Path connections between walls."""

from __future__ import annotations

from takeoff.building import ModelConnection
from takeoff.reading.faults import BROKEN_ENTITY
from takeoff.reading.model_file import ModelFile


def read_connections(model: ModelFile, wall_of: dict[int, str]) -> tuple[ModelConnection, ...]:
    """Joints that the model states between two of its walls, in file order.

    wall_of: GlobalId of the wall by step number, for walls and their parts; a joint between parts of one wall is none.
    """
    found = []
    for relation in model.of_class("IfcRelConnectsPathElements"):
        try:
            one, other = relation.RelatingElement, relation.RelatedElement
            ends = (relation.RelatingConnectionType or "NOTDEFINED", relation.RelatedConnectionType or "NOTDEFINED")
        except BROKEN_ENTITY:
            continue
        if one is None or other is None:
            continue
        wall, neighbour = wall_of.get(one.id()), wall_of.get(other.id())
        if wall and neighbour and wall != neighbour:
            found.append(ModelConnection(wall, ends[0], neighbour, ends[1]))
    return tuple(found)
