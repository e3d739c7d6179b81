"""The wishes as an IDS 1.0 file, made and checked by the general-purpose library ifctester and shipped ready-made.

`python -m tests.shipped_ids` makes the shipped file anew after a change of the wishes; a test holds it against them.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from reports.files import write_bytes
from reports.ids_wishes import IFC2X3, IFC4, IFC4X3, WISHES, Facet, Need, Wish

TITLE = "What a model needs for a takeoff of framed walls"
DESCRIPTION = (
    "Requirements on a building model from which the cavities of framed walls are taken off for blown-in insulation. "
    "Walls need, besides what can be checked here, material layers with their thicknesses or a modelled frame."
)
_SCHEMAS = (IFC2X3, IFC4, IFC4X3)


SHIPPED = Path(__file__).parent / "data" / "model_needs.ids"


def write_ids(file: Path) -> None:
    """Writes the IDS file. Raises OutputError."""
    write_bytes(file, ids_bytes())


def ids_bytes() -> bytes:
    """The IDS file as it is shipped: making it takes longer than a small takeoff."""
    return SHIPPED.read_bytes()


def made_ids() -> bytes:
    """The IDS file made from the wishes, the same bytes at each call."""
    from xml.etree import ElementTree

    text = specifications(_SCHEMAS, WISHES).to_string()
    root = ElementTree.fromstring(text)
    # The library writes the standard's namespace under a made-up prefix; declared as default it reads as usual.
    for prefix, address in (
        ("", "http://standards.buildingsmart.org/IDS"),
        ("xs", "http://www.w3.org/2001/XMLSchema"),
        ("xsi", "http://www.w3.org/2001/XMLSchema-instance"),
    ):
        ElementTree.register_namespace(prefix, address)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)


def specifications(schemas: Sequence[str], wishes: Sequence[Wish]) -> Any:
    """The wishes as an `ifctester.ids.Ids`: one specification for each group of schemas with the same classes."""
    from ifctester.ids import Ids

    made = Ids(title=TITLE, description=DESCRIPTION, purpose="Takeoff of framed walls")
    for wish in wishes:
        groups: dict[tuple[tuple[str, ...], ...], list[str]] = {}
        for schema in schemas:
            wholes = [need.wholes[schema] for need in wish.needs if need.wholes is not None]
            groups.setdefault((wish.classes[schema], *wholes), []).append(schema)
        made.specifications += [_specification(wish, group) for group in groups.values()]
    return made


def _specification(wish: Wish, schemas: Sequence[str]) -> Any:
    """One specification for schemas that name the classes alike."""
    from ifctester.facet import Entity
    from ifctester.ids import Specification

    made = Specification(
        name=wish.title,
        ifcVersion=list(schemas),
        identifier=f"{wish.key}-{'-'.join(schemas)}",
        description=wish.why,
        instructions=wish.ask,
        minOccurs=1 if wish.at_least_one else 0,
    )
    made.applicability.append(Entity(name=_any_of(wish.classes[schemas[0]])))
    made.requirements += [_facet(need, schemas[0]) for need in wish.needs]
    return made


def _any_of(names: Sequence[str]) -> Any:
    from ifctester.facet import Restriction

    return names[0] if len(names) == 1 else Restriction(options={"enumeration": list(names)})


def _facet(need: Need, schema: str) -> Any:
    from ifctester import facet

    cardinality: Any = "optional" if need.optional else "required"
    if need.facet is Facet.ATTRIBUTE:
        return facet.Attribute(name=need.name, cardinality=cardinality)
    if need.facet is Facet.MATERIAL:
        return facet.Material(cardinality=cardinality)
    if need.facet is Facet.PART_OF:
        wholes = _any_of((need.wholes or {})[schema])
        return facet.PartOf(name=wholes, relation=need.relation, cardinality=cardinality)
    set_name, _, name = need.name.partition(".")
    return facet.Property(set_name, name, dataType=need.kind, cardinality=cardinality)
