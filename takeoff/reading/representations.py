"""Which representation of an element is its body, and the items in it with their mapping."""

from __future__ import annotations

from typing import Any

import numpy as np

from takeoff.reading.attributes import attribute, linked, value_of, word
from takeoff.reading.faults import ElementFault
from takeoff.reading.placements import Matrix, axis_placement, operator_matrix

BODY_NAMES = {"body": 0, "body-fallback": 1, "facetation": 1, "tessellation": 1, "surface": 2}
"""Rank of RepresentationIdentifier; a lower one is better."""
SHAPE_TYPES = frozenset(
    {
        "solidmodel",
        "sweptsolid",
        "advancedsweptsolid",
        "brep",
        "advancedbrep",
        "csg",
        "clipping",
        "tessellation",
        "surfacemodel",
        "mappedrepresentation",
    }
)
"""RepresentationType of bodies, for exporters that leave the identifier empty."""
MAX_MAPS = 32
"""Maps of maps; real files have one, at times two."""
MAX_ITEMS = 100_000


def body_representations(element: Any) -> list[Any]:
    """The representations that may be the body of an element, best first.

    Only one of them is the body: the others show the same shape in other detail. Axis, footprint, box, clearance and
    the like are never among them. An opening whose shape is kept for reference counts (its wall has it cut already).
    """
    ranked = []
    for place, representation in enumerate(_representations(element)):
        rank = _rank(representation, element)
        if rank is not None:
            ranked.append((rank, place, representation))
    return [representation for _, _, representation in sorted(ranked, key=lambda entry: entry[:2])]


def representation_named(element: Any, name: str) -> Any | None:
    """The first representation with that identifier, e.g. 'Axis'."""
    for representation in _representations(element):
        if word(representation, "RepresentationIdentifier").lower() == name.lower():
            return representation
    return None


def items_of(representation: Any, length: float) -> list[tuple[Any, Matrix | None, bool]]:
    """The items of a representation with maps resolved.

    Each comes with its (4, 4) matrix in m (None for no map) and whether it is mapped at all, so that it may be met
    again. Raises ElementFault on circular maps or a senseless number of items.
    """
    found: list[tuple[Any, Matrix | None, bool]] = []
    _collect(representation, None, (), found, length)
    return found


def _collect(
    representation: Any,
    matrix: Matrix | None,
    path: tuple[int, ...],
    found: list[tuple[Any, Matrix | None, bool]],
    length: float,
) -> None:
    if representation.id() in path or len(path) > MAX_MAPS:
        raise ElementFault(f"its shape #{representation.id()} is mapped into itself; export the model again")
    inside = (*path, representation.id())
    for item in value_of(representation, "Items") or ():
        if item.is_a("IfcMappedItem"):
            source = item.MappingSource
            # The target operator is applied to the origin of the map, as the common kernels do.
            step = operator_matrix(item.MappingTarget, length) @ axis_placement(source.MappingOrigin, length)
            _collect(source.MappedRepresentation, step if matrix is None else matrix @ step, inside, found, length)
        else:
            found.append((item, matrix, bool(path)))
        if len(found) > MAX_ITEMS:
            raise ElementFault(f"its shape has more than {MAX_ITEMS} items; simplify it")


def _representations(element: Any) -> tuple[Any, ...]:
    return tuple(
        representation
        for shape in linked(element, "Representation", "IfcProductRepresentation")
        for representation in linked(shape, "Representations", "IfcShapeRepresentation")
    )


def _rank(representation: Any, element: Any) -> int | None:
    name = word(representation, "RepresentationIdentifier").strip().lower()
    kind = word(representation, "RepresentationType").strip().lower()
    if name in BODY_NAMES:
        rank = BODY_NAMES[name]
    elif (name == "reference" and element.is_a("IfcFeatureElement")) or (not name and kind in SHAPE_TYPES):
        rank = 3
    else:
        return None
    context = value_of(representation, "ContextOfItems")
    view = attribute(context, "TargetView") if context is not None else None
    # Ten ranks down: a body drawn for plans or sketches is used only where there is no other.
    return rank if view in (None, "MODEL_VIEW", "NOTDEFINED", "USERDEFINED") else rank + 10


def is_mirrored(matrix: Matrix) -> bool:
    """Whether a (4, 4) matrix turns right-handed into left-handed."""
    return float(np.linalg.det(matrix[:3, :3])) < 0.0
