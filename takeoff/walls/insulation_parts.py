"""Insulation that is modelled as bodies: no member and no obstruction, whatever blown insulation takes its place.

Members, beams and columns are left to the reading of frames, since a stud may be named after the layer that it stands
in; here only what is no such element goes, by its class, type, name or material.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from takeoff.building import Model, ModelPart, ModelWall
from takeoff.finding import Finding, Severity
from takeoff.framing.role_words import is_insulation

_FRAMING = ("ifcmember", "ifcbeam", "ifccolumn")


def without_insulation(model: Model) -> Model:
    """The model without bodies of insulation among its parts, with one finding for each wall that had some."""
    walls: list[ModelWall] = []
    findings: list[Finding] = []
    for wall in model.walls:
        gone = [part for part in wall.parts if _is_insulation(part)]
        # Where nothing else of a wall has a body, what is left of it is that of its insulation.
        if not gone or (not wall.body and len(gone) == len(wall.parts)):
            walls.append(wall)
            continue
        walls.append(replace(wall, parts=tuple(part for part in wall.parts if not _is_insulation(part))))
        findings.append(_finding(wall, gone))
    loose = tuple(part for part in model.loose_parts if not _is_insulation(part))
    if not findings and len(loose) == len(model.loose_parts):
        return model
    return replace(model, walls=tuple(walls), loose_parts=loose, findings=(*model.findings, *findings))


def _is_insulation(part: ModelPart) -> bool:
    if part.ifc_class.lower().startswith(_FRAMING):
        return False
    return is_insulation(part.ifc_class, part.predefined_type, part.material, part.name, part.type_name)


def _finding(wall: ModelWall, gone: Sequence[ModelPart]) -> Finding:
    named = ", ".join(part.name or part.global_id for part in gone[:3])
    more = f" and {len(gone) - 3} more" if len(gone) > 3 else ""
    return Finding(
        "modelled-insulation-left-out", Severity.INFO,
        f"Modelled insulation ({named}{more}) takes no room from what is blown in and was left out.",
        wall.global_id, gone[0].global_id, gone[0].ifc_class, gone[0].name, float(len(gone)), None, "pieces",
    )  # fmt: skip
