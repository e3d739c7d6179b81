"""Hand-built records for tests: small walls with round numbers, made without any model file.

The plain wall is 2.4 m long and 2.4 m high with a stud layer of 0.1 m: two plates and two end studs of 0.05 m, one
door of 1 m x 2 m that is left of nothing else. Its numbers can be checked in the head.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import Polygon, box

from geometry.frames import Axes
from geometry.solids import Mesh, Prism, extruded
from takeoff.building import DeclaredQuantity, Model
from takeoff.fill_results import planned
from takeoff.finding import Finding, Severity
from takeoff.job import assumptions, default_job, hose_settings
from takeoff.model import (
    Balance,
    Cavity,
    CavityKind,
    Frame,
    Layer,
    LayerRole,
    LayerTakeoff,
    Member,
    MemberRole,
    Method,
    Opening,
    Source,
    Status,
    StudLayer,
    Wall,
    WallTakeoff,
)
from takeoff.result import Takeoff, gathered

DEPTH = 0.1
ORIGIN = (10.0, 20.0, 0.0)


def wall_axes() -> Axes:
    """Wall axes at (10, 20, 0) with x, y, z along the world's."""
    return Axes(np.array(ORIGIN), np.eye(3))


def member(number: int, role: MemberRole, outline: Polygon, key: str, source: Source = Source.LAID_OUT) -> Member:
    """A member through the whole depth."""
    return Member(f"{key}/m{number}", role, "by hand", source, Prism(outline, 0.0, DEPTH))


def mesh_member(key: str) -> Member:
    """A box of 0.02 x 0.04 x 0.06 m given as a mesh."""
    solid: Mesh = extruded(box(0.3, 0.5, 0.32, 0.56), 0.03, 0.07)
    return Member(
        "PIPE",
        MemberRole.OBSTRUCTION,
        "solid in the stud layer",
        Source.MODELLED,
        solid,
        "PIPE",
        "IfcBuildingElementProxy",
    )


def cavity(number: int, outline: Polygon, key: str, **changes: object) -> Cavity:
    """A cavity through the whole depth."""
    values: dict[str, object] = {
        "cavity_id": f"{key}/c{number:02d}",
        "wall_id": key.split("#")[0],
        "layer_key": key,
        "storey": "Ground floor",
        "room": "Kitchen",
        "kind": CavityKind.FULL_HEIGHT,
        "method": Method.BLOW,
        "reason": "open bay",
        "outline": outline,
        "y_min": 0.0,
        "y_max": DEPTH,
        "area": outline.area,
        "volume": outline.area * DEPTH,
        "clear_width": min(outline.bounds[2] - outline.bounds[0], outline.bounds[3] - outline.bounds[1]),
        "centroid": (
            ORIGIN[0] + outline.centroid.x,
            ORIGIN[1] + DEPTH / 2,
            ORIGIN[2] + outline.centroid.y,
        ),
        "front": outline,
    }
    return Cavity(**{**values, **changes})  # type: ignore[arg-type]


def stud_layer(key: str) -> StudLayer:
    """A stud layer of 2.4 m x 2.4 m x 0.1 m between a lining and a sheathing."""
    layers = (
        Layer("gypsum board", "gypsum", 0.0125, LayerRole.LINING, "by its category", -0.0125, 0.0),
        Layer("studs", "wood", DEPTH, LayerRole.STUD, "by its name", 0.0, DEPTH, 0.12),
        Layer("board", "", 0.012, LayerRole.SHEATHING, "by its name", DEPTH, DEPTH + 0.012),
    )
    return StudLayer(
        key,
        key.split("#")[0],
        wall_axes(),
        DEPTH,
        Prism(box(0.0, 0.0, 2.4, 2.4), 0.0, DEPTH),
        (),
        (),
        layers,
        "towards the room",
        ("Kitchen",),
    )


def layer_takeoff(key: str, source: Source = Source.LAID_OUT) -> LayerTakeoff:
    """The plain wall's stud layer: gross 5.76 m2, door 2 m2, framing 0.5 m2, one bay, one part over the door, a gap."""
    layer = stud_layer(key)
    members = (
        member(1, MemberRole.BOTTOM_PLATE, box(0.0, 0.0, 1.4, 0.05), key, source),
        member(2, MemberRole.TOP_PLATE, box(0.0, 2.35, 2.4, 2.4), key, source),
        member(3, MemberRole.STUD, box(0.0, 0.05, 0.05, 2.35), key, source),
        mesh_member(key),
    )
    opening = Opening(f"{key}/door", box(1.4, 0.0, 2.4, 2.0), "IfcDoor", "Door, 1 m", "opening element")
    bay = cavity(1, box(0.05, 0.05, 1.395, 2.35), key, obstructions=("PIPE",))
    over = cavity(2, box(1.4, 2.0, 2.4, 2.35), key, kind=CavityKind.OVER_HEADER, method=Method.BATT, reason="low")
    gap = cavity(3, box(1.395, 0.05, 1.4, 2.35), key, kind=CavityKind.SLIVER, method=Method.SEAL, reason="narrow")
    framing = sum(m.solid.volume for m in members if isinstance(m.solid, Prism))
    return LayerTakeoff(
        Frame(layer, members, source, "wood-16in", (opening,)),
        (bay, over, gap),
        Balance(5.76 * DEPTH, 2.0 * DEPTH, framing, bay.volume + over.volume, gap.volume),
        framing / DEPTH,
        2.0,
        5.76,
        (Finding("gap-sealed", Severity.INFO, "A gap of 5 mm is sealed, not filled.", key.split("#")[0]),),
    )


def wall(wall_id: str, **changes: object) -> Wall:
    """An outside wall of 2.4 m x 2.4 m on the ground floor."""
    values: dict[str, object] = {
        "wall_id": wall_id,
        "ifc_class": "IfcWall",
        "name": f"Wall {wall_id}",
        "type_name": "W1 outside",
        "storey": "Ground floor",
        "storey_elevation": 0.0,
        "external": True,
        "external_reason": "the model says so",
        "insulated": True,
        "insulated_reason": "outside wall",
        "length": 2.4,
        "height": 2.4,
        "gross_area": 5.76,
        "stud_layers": (),
        "status": Status.TAKEN_OFF,
        "reason": "",
    }
    return Wall(**{**values, **changes})  # type: ignore[arg-type]


def plain_wall(wall_id: str = "WALL-A", *, source: Source = Source.LAID_OUT, **changes: object) -> WallTakeoff:
    """The plain wall, taken off."""
    stud = stud_layer(wall_id)
    quantities = (
        DeclaredQuantity("GrossSideArea", 5.70, "m2"),
        DeclaredQuantity("NetSideArea", 3.76, "m2"),
    )
    record = wall(wall_id, **{"stud_layers": (stud,), "quantities": quantities, **changes})
    return WallTakeoff(record, (layer_takeoff(wall_id, source),), Status.TAKEN_OFF, "")


def steel_stud_wall(wall_id: str = "WALL-S") -> WallTakeoff:
    """The plain wall with studs of steel."""
    result = plain_wall(wall_id)

    def of_steel(layer: StudLayer) -> StudLayer:
        rows = (
            replace(row, material="galvanised steel studs", category="") if row.role is LayerRole.STUD else row
            for row in layer.layers
        )
        return replace(layer, layers=tuple(rows))

    layers = tuple(
        replace(each, frame=replace(each.frame, layer=of_steel(each.frame.layer), rule="steel-16in"))
        for each in result.layers
    )
    record = replace(result.wall, stud_layers=tuple(each.frame.layer for each in layers), type_name="W2 steel")
    return replace(result, wall=record, layers=layers)


def double_wall(wall_id: str = "WALL-D") -> WallTakeoff:
    """A wall with two stud layers, both as the plain wall's."""
    second = f"{wall_id}#2"
    record = wall(wall_id, stud_layers=(stud_layer(wall_id), stud_layer(second)))
    return WallTakeoff(record, (layer_takeoff(wall_id), layer_takeoff(second)), Status.TAKEN_OFF, "")


def left_out_wall(wall_id: str = "WALL-L", reason: str = "no stud layer among its layers") -> WallTakeoff:
    """A wall that is no framed wall."""
    record = wall(
        wall_id,
        external=False,
        insulated=False,
        insulated_reason="inside wall",
        type_name="W9 concrete",
        status=Status.LEFT_OUT,
        reason=reason,
        storey="Upper floor",
        storey_elevation=2.7,
    )
    return WallTakeoff(record, (), Status.LEFT_OUT, reason)


def failed_wall(wall_id: str = "WALL-F", reason: str = "its body is not closed") -> WallTakeoff:
    """A wall that could not be measured."""
    record = wall(wall_id, length=0.0, height=0.0, gross_area=0.0, status=Status.FAILED, reason=reason)
    finding = Finding("wall-not-readable", Severity.ERROR, f"IfcWall {wall_id}: {reason}; mend the body.", wall_id)
    return WallTakeoff(record, (), Status.FAILED, reason, (finding,))


def house() -> tuple[WallTakeoff, ...]:
    """One wall of each sort, in the order of a model file, the upper floor first."""
    return (left_out_wall(), plain_wall(), double_wall(), failed_wall(), plain_wall("WALL-M", source=Source.MODELLED))


def takeoff_of(results: tuple[WallTakeoff, ...] | None = None, **changes: object) -> Takeoff:
    """A takeoff of some walls with the default job."""
    model = Model(
        path="/somewhere/on/a/disk/house.ifc",
        schema="IFC4",
        length_unit="MILLIMETRE",
        length_unit_m=0.001,
        true_north=(0.0, 1.0),
        project_name="Invented house",
        walls=(),
        spaces=(),
        loose_parts=(),
        loose_openings=(),
        connections=(),
        findings=(Finding("unit-guessed", Severity.WARNING, "The file names no unit; metres were taken."),),
    )
    job = default_job()
    walls = [planned(result, hose_settings(job)) for result in (house() if results is None else results)]
    made = gathered(model, walls, job, assumptions(job))
    return replace(made, **changes)  # type: ignore[arg-type]
