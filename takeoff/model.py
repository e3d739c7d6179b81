"""The trade's vocabulary: a wall understood, its stud layers, members, openings and cavities, as frozen records.

What the building model says of a wall, before any judgement, stands in `takeoff/building.py`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from shapely import MultiPolygon, Polygon

from geometry.frames import LocalAxes
from geometry.solids import Mesh, Solid
from takeoff.building import DeclaredQuantity, ModelPart
from takeoff.finding import Finding

# ---------------------------------------------------------------- the trade's words


class LayerRole(StrEnum):
    STUD = "stud_layer"
    SHEATHING = "sheathing"
    LINING = "lining"
    CLADDING = "cladding"
    AIR = "air"
    OTHER = "other"


class MemberRole(StrEnum):
    BOTTOM_PLATE = "bottom_plate"
    TOP_PLATE = "top_plate"
    STUD = "stud"
    KING_STUD = "king_stud"
    JACK_STUD = "jack_stud"
    CRIPPLE = "cripple"
    HEADER = "header"
    SILL = "sill"
    BLOCKING = "blocking"
    BRACE = "brace"
    BACKING = "backing"
    FURRING = "furring"
    OBSTRUCTION = "obstruction"
    OTHER = "other"


class Source(StrEnum):
    MODELLED = "modelled"
    LAID_OUT = "laid_out"


class CavityKind(StrEnum):
    FULL_HEIGHT = "full_height_bay"
    OVER_HEADER = "bay_over_header"
    UNDER_SILL = "bay_under_sill"
    BETWEEN_BLOCKINGS = "bay_between_blockings"
    RAKED = "raked_bay"
    NARROW = "narrow_bay"
    JOINED = "joined_bays"
    """Open sideways across more than one bay (two stud rows with a shared space, a wide space with no cripples)."""
    CLOSED_POCKET = "closed_pocket"
    SLIVER = "sliver"
    OPENING_GAP = "opening_gap"
    """A gap in a modelled frame that is a door or window, or a part of the wall outside its frame: not insulated."""


class Method(StrEnum):
    BLOW = "blow"
    BATT = "batt"
    SEAL = "seal"
    BEFORE_SHEATHING = "before_sheathing"
    NONE = "none"


class Status(StrEnum):
    TAKEN_OFF = "taken_off"
    LEFT_OUT = "left_out"
    """Understood, but not a framed wall (or not one that can be developed): nothing was counted."""
    FAILED = "failed"
    """A step went wrong on this wall; the reason says which."""


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer of a wall with its role, in the wall axes of a stud layer (y grows away from the fill side)."""

    material: str
    category: str
    thickness: float
    role: LayerRole
    reason: str
    y_min: float
    y_max: float
    conductivity: float | None = None
    ventilated: bool = False
    """True where the model calls it ventilated (IfcMaterialLayer.IsVentilated)."""


@dataclass(frozen=True, slots=True, eq=False)
class Opening:
    """A hole through a stud layer, in wall axes (x, z), m."""

    opening_id: str
    """GlobalId of the opening element or of the door or window, or an id of our own for a gap in the frame."""
    outline: Polygon | MultiPolygon
    filling_class: str
    filling_name: str
    evidence: str
    """'opening element', 'door stands in the frame', 'header over a gap', ..."""
    solid: Solid | None = None
    """Set only for a recess: the part of the depth that it takes. None means through the whole stud layer."""
    beyond_frame: bool = False
    """True for a part of the wall's body that lies outside its modelled frame: no hole, but no stud bay either."""


@dataclass(frozen=True, slots=True, eq=False)
class Member:
    """One solid piece of the frame, or an obstruction, in wall axes."""

    member_id: str
    """`<element id>` or `<element id>/<n>` where one element has several solids; `<layer key>/m<n>` if laid out."""
    role: MemberRole
    reason: str
    source: Source
    solid: Solid
    element_id: str = ""
    element_class: str = ""
    element_name: str = ""
    section: str = ""
    """Thickness and depth in words, e.g. '38 x 140 mm'; empty where nobody measured it."""


@dataclass(frozen=True, slots=True, eq=False)
class StudLayer:
    """One layer of studs of one wall: the thing that is framed, sliced and filled.

    Wall axes: seen by someone standing on the fill side, x left to right, z up from the underside of the bottom
    plate, y into the wall away from the viewer, 0 at the fill face of the studs.
    """

    key: str
    """Wall GlobalId, with '#2' and so on for a second stud layer."""
    wall_id: str
    axes: LocalAxes
    depth: float
    """m; the stud layer fills 0 <= y <= depth."""
    outline: Solid
    """The body of the stud layer itself (wall axes, openings not cut), clipped to 0 <= y <= depth."""
    openings: tuple[Opening, ...]
    parts: tuple[ModelPart, ...]
    """Modelled members and obstructions that reach into this layer; their solids are in WALL axes here."""
    layers: tuple[Layer, ...]
    fill_side: str
    """Why this side is the fill side."""
    rooms: tuple[str, ...]
    """Names of the rooms on the fill side, nearest first; may be empty."""


@dataclass(frozen=True, slots=True, eq=False)
class Wall:
    """A wall understood: its stud layers, or the reason why it has none."""

    wall_id: str
    ifc_class: str
    name: str
    type_name: str
    storey: str
    storey_elevation: float | None
    external: bool
    external_reason: str
    insulated: bool
    insulated_reason: str
    length: float
    height: float
    gross_area: float
    """m2, elevation of the body, openings not deducted."""
    stud_layers: tuple[StudLayer, ...]
    status: Status
    reason: str
    quantities: tuple[DeclaredQuantity, ...] = ()
    findings: tuple[Finding, ...] = ()
    job_rules: tuple[str, ...] = ()
    """What the job file says about this wall, block by block, in the order of the file."""
    body: tuple[Mesh, ...] = ()
    """World axes, m: of a wall without stud layers, so that what was left out can be shown; empty for others."""


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """The members of one stud layer, with the openings and the outline that they were set out for."""

    layer: StudLayer
    members: tuple[Member, ...]
    source: Source
    rule: str
    """Name of the rule set for a laid-out frame, how the members were found for a modelled one."""
    openings: tuple[Opening, ...]
    """All openings: those of the layer and those found as gaps in the frame."""
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Cavity:
    """One connected void of a stud layer, in wall axes."""

    cavity_id: str
    """`<layer key>/c<nn>`, numbered left to right, then bottom to top."""
    wall_id: str
    layer_key: str
    storey: str
    room: str
    kind: CavityKind
    method: Method
    reason: str
    """Why this kind and method."""
    outline: Polygon | MultiPolygon
    """Elevation outline (x, z), m."""
    y_min: float
    y_max: float
    """m; nearest and farthest depth that the void reaches."""
    area: float
    """m2 in elevation"""
    volume: float
    """m3"""
    clear_width: float
    """m; diameter of the largest circle inside the outline."""
    centroid: tuple[float, float, float]
    """m, world; centre of the volume."""
    front: Polygon | MultiPolygon = field(default_factory=Polygon)
    """The part of the outline that is open at the fill face (x, z), m; empty for a closed pocket."""
    obstructions: tuple[str, ...] = ()
    """Ids of the obstructions that take volume from it or bound it."""
    obstruction_volumes: tuple[float | None, ...] = ()
    """m3 that each of them takes from the bay; None where it parts the bay and so cannot be told for one cavity."""


@dataclass(frozen=True, slots=True)
class Balance:
    """Volumes of one stud layer, m3. Nothing may be missing: gross = openings + framing + cavities + slivers."""

    gross: float
    openings: float
    framing: float
    cavities: float
    slivers: float

    @property
    def residual(self) -> float:
        """Relative to the gross volume, dimensionless; 0 for an empty layer."""
        if self.gross <= 0.0:
            return 0.0
        return abs(self.gross - self.openings - self.framing - self.cavities - self.slivers) / self.gross


@dataclass(frozen=True, slots=True)
class OpenSide:
    """A side of a bay that no member closes, neither of its own frame nor of another wall."""

    cavity_id: str
    side: str
    """left, right, bottom or top, or opening where the bay is open to an opening of its own wall"""
    length: float
    """m, along the side"""
    low: float
    """m, nearest end of its range along z (left, right) or along x; of the box of an opening's edge along z"""
    high: float
    area: float
    """m2, its length at each depth of the bay where no member stands on it, over these depths"""


@dataclass(frozen=True, slots=True, eq=False)
class LayerTakeoff:
    """What came out of one stud layer."""

    frame: Frame
    cavities: tuple[Cavity, ...]
    """Slivers and opening gaps included, told apart by kind."""
    balance: Balance
    framing_area: float
    """m2 of elevation that members cover at the fill-side face or anywhere in the depth."""
    opening_area: float
    gross_area: float
    findings: tuple[Finding, ...] = ()
    open_sides: tuple[OpenSide, ...] = ()
    """Sides that blown-in fibre would run out of."""


@dataclass(frozen=True, slots=True, eq=False)
class WallTakeoff:
    """One wall's result. Every wall of the model has one, whatever its status."""

    wall: Wall
    layers: tuple[LayerTakeoff, ...]
    status: Status
    reason: str
    findings: tuple[Finding, ...] = ()
