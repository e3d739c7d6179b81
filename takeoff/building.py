"""What a building model says, as frozen records in world metres, before any trade judgement.

The reader makes them, and nothing else touches IFC.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from geometry.solids import Mesh
from takeoff.finding import Finding


@dataclass(frozen=True, slots=True)
class ModelLayer:
    """One material layer as the model gives it, in the model's own order."""

    material: str
    category: str
    thickness: float
    """m"""
    name: str = ""
    conductivity: float | None = None
    """W/(m K), where the material's property set has it."""
    ventilated: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class ModelLayers:
    """The layer set of a wall with the sense in which it is stacked."""

    layers: tuple[ModelLayer, ...]
    direction: NDArray[np.float64] | None
    """(3,) float64, world unit vector from the first layer towards the last; None where the model does not say."""
    offset: float | None
    """m along `direction`-axis line: signed distance from the reference line to the face where stacking starts."""
    name: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class ModelPart:
    """A member or any other element with a body: part of a wall, standing near it, or from another discipline."""

    global_id: str
    ifc_class: str
    name: str
    type_name: str
    predefined_type: str
    material: str
    solids: tuple[Mesh, ...]
    """World axes, m; one closed shell each."""
    wall_id: str = ""
    """GlobalId of the wall (or assembly) that aggregates it at any depth, else empty."""
    source: str = ""
    """File it came from, where it is not the main model."""


@dataclass(frozen=True, slots=True, eq=False)
class ModelOpening:
    """An opening element of a wall, or a door or window that stands in it without one."""

    global_id: str
    ifc_class: str
    name: str
    solids: tuple[Mesh, ...]
    filling_id: str = ""
    filling_class: str = ""
    filling_name: str = ""
    recess: bool = False
    """True where the model calls it a recess (PredefinedType RECESS): it need not pass through the wall."""
    problem: str = ""
    """Why its shape could not be read, else empty."""
    filling_size: tuple[float, float] | None = None
    """m; OverallWidth and OverallHeight of the door or window that fills it alone, as the model states them."""


@dataclass(frozen=True, slots=True, eq=False)
class ModelSpace:
    """A room."""

    global_id: str
    name: str
    long_name: str
    storey: str
    solids: tuple[Mesh, ...]
    external: bool = False
    """True for an outside space (PredefinedType EXTERNAL)."""

    @property
    def label(self) -> str:
        """What the room is called in results."""
        return " ".join(text for text in (self.name, self.long_name) if text) or self.global_id


@dataclass(frozen=True, slots=True, eq=False)
class ModelRoof:
    """A roof, or a slab or plate that is one or a part of one; rafters are left out."""

    global_id: str
    ifc_class: str
    name: str
    solids: tuple[Mesh, ...]


@dataclass(frozen=True, slots=True)
class ModelConnection:
    """Two walls that the model says are joined (path connection), ends as the model names them."""

    wall_id: str
    wall_end: str
    """ATSTART, ATEND, ATPATH or NOTDEFINED."""
    other_id: str
    other_end: str


@dataclass(frozen=True, slots=True)
class DeclaredQuantity:
    """A quantity that the model itself carries, in SI."""

    name: str
    """As the standard names it, e.g. NetSideArea."""
    value: float
    unit: str
    """m, m2 or m3"""


@dataclass(frozen=True, slots=True, eq=False)
class ModelWall:
    """A wall (or an assembly that holds a wall frame) as the model gives it."""

    global_id: str
    ifc_class: str
    name: str
    type_name: str
    storey: str
    storey_elevation: float | None
    placement: NDArray[np.float64]
    """(4, 4) float64, m: wall's own placement in the world."""
    body: tuple[Mesh, ...]
    """World axes, m, openings NOT subtracted; empty where the wall has no body of its own."""
    layers: ModelLayers | None
    materials: tuple[ModelLayer, ...]
    """Materials without thickness order (a material list or single material): thickness 0 where not given."""
    openings: tuple[ModelOpening, ...]
    parts: tuple[ModelPart, ...]
    external: bool | None
    """What Pset_WallCommon.IsExternal says; None where it is silent."""
    acoustic_rating: str
    """Pset_WallCommon.AcousticRating, else empty."""
    thermal_transmittance: float | None
    """Pset_WallCommon.ThermalTransmittance, W/(m2 K)."""
    quantities: tuple[DeclaredQuantity, ...]
    space_ids: tuple[str, ...]
    """GlobalIds of rooms that the model's space boundaries join to this wall."""
    cylinder: Cylinder | None = None
    """Set where the wall's axis is one circular arc."""
    predefined_type: str = ""
    problem: str = ""
    """Why the wall cannot be read (no body, broken body), else empty."""
    only_groups: bool = False
    """True where it has no body and only holds other walls, which then stand by themselves."""


@dataclass(frozen=True, slots=True, eq=False)
class Cylinder:
    """The vertical cylinder on which the axis of a curved wall lies."""

    centre: NDArray[np.float64]
    """(3,) float64, m, world."""
    axis: NDArray[np.float64]
    """(3,) float64 unit vector, world."""
    radius: float
    anticlockwise: bool | None = None
    """Whether the wall's path runs anticlockwise about `axis` as its tip sees it; None where the model has no path."""


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """Everything that was read from the model file(s)."""

    path: str
    schema: str
    length_unit: str
    """As the file names it, e.g. 'MILLIMETRE' or 'inch'."""
    length_unit_m: float
    true_north: tuple[float, float]
    """World xy direction of true north, (0, 1) where the model does not say."""
    project_name: str
    walls: tuple[ModelWall, ...]
    spaces: tuple[ModelSpace, ...]
    loose_parts: tuple[ModelPart, ...]
    """Members and other solids that no wall aggregates (read only where they may stand in a wall)."""
    loose_openings: tuple[ModelOpening, ...]
    """Doors and windows that fill no opening of a wall."""
    connections: tuple[ModelConnection, ...]
    findings: tuple[Finding, ...]
    roofs: tuple[ModelRoof, ...] = ()
    true_north_stated: bool = False
    curtain_walls: tuple[NDArray[np.float64], ...] = ()
    """(n, 3) float64, m, world: points around each panel and bar of curtain walls, which close rooms."""
