"""What the sample models must come out as, each number by arithmetic that can be followed with a pencil.

Nothing here is read from a file or computed by the program under test. Studio and steel facts are exact for what is
drawn, since every member is drawn; for the house, which nobody has framed, only volumes and areas before framing.

x is in wall axes: seen from the fill side (the inside), left to right, 0 at the left end of the bottom plate (the side
walls' cap plates run 5.5 in past it on both ends). The studio's front, back and east walls are drawn from right to
left as seen from inside, so there x = length - (x along the drawing).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

IN = 0.0254
"""m"""
IN3 = IN**3

# ---------------------------------------------------------------- sizes of the garden studio, in


D = 5.5
"""Depth of a 2x6."""
LONG, SIDE = 192.0, 114.5
PRECUT = 92.625
"""Stud of the back wall, between plates."""
FRONT_STUD = 114.625
"""Front lower top plate's underside 116.125, less the bottom plate 1.5."""
BAY = 16.0 - 1.5


@dataclass(frozen=True, slots=True)
class CavityFact:
    """One cavity that must come out: where it lies (m, wall axes of the fill side) and its volume."""

    wall: str
    what: str
    x_min: float
    x_max: float
    z_min: float
    z_max: float
    volume: float
    """m3"""
    relative_tolerance: float = 1e-9
    """1e-9 where all is extruded; looser where a round pipe, tessellated, takes part of it."""


def mirrored(what: str, x0: float, x1: float, z: tuple[float, float], cubic_inches: float, wall: str) -> CavityFact:
    """A fact of a wall drawn from right to left; x0 and x1 along the drawing, all in inches."""
    return CavityFact(wall, what, (LONG - x1) * IN, (LONG - x0) * IN, z[0] * IN, z[1] * IN, cubic_inches * IN3)


def back(what: str, x0: float, x1: float, z: tuple[float, float], cubic_inches: float) -> CavityFact:
    return mirrored(what, x0, x1, z, cubic_inches, "Back wall")


def front(what: str, x0: float, x1: float, z: tuple[float, float], cubic_inches: float) -> CavityFact:
    return mirrored(what, x0, x1, z, cubic_inches, "Front wall")


# ---------------------------------------------------------------- back wall, studs 1.5 to 94.125

FULL_BACK = (1.5, 94.125)
PIPE = math.pi * 0.4375**2
"""in2: section of the two pipes, 7/8 in across."""
PIPE_MEETING = 8.0 / 3.0 * 0.4375**3
"""in3 counted twice where the level pipe begins on the axis of the upright one: half of two crossing cylinders,
(16/3) r3 / 2."""

BACK_CAVITIES = (
    back("bay beside the doubled corner stud", 3.0, 15.25, FULL_BACK, 12.25 * PRECUT * D),
    # 14.5 x 92.625 x 5.5 in is 4.2748 ft3, the same bay as in the shared check values
    back("plain bay 16 to 32", 16.75, 31.25, FULL_BACK, BAY * PRECUT * D),
    back("plain bay 32 to 48", 32.75, 47.25, FULL_BACK, BAY * PRECUT * D),
    back("bay up to the king stud", 48.75, 63.25, FULL_BACK, BAY * PRECUT * D),
    back("bay after the king stud", 129.25, 143.25, FULL_BACK, 14.0 * PRECUT * D),
    # corner stud set flat: 5.5 wide, 1.5 deep, against the fill side of a bay 13.75 wide
    back("bay with the flat corner stud", 176.75, 190.5, FULL_BACK, (13.75 * D - 5.5 * 1.5) * PRECUT),
    back("under the sill, first", 67.75, 79.25, (1.5, 41.0), 11.5 * 39.5 * D),
    back("under the sill, second", 80.75, 95.25, (1.5, 41.0), BAY * 39.5 * D),
    back("under the sill, third", 96.75, 111.25, (1.5, 41.0), BAY * 39.5 * D),
    back("under the sill, last", 112.75, 124.75, (1.5, 41.0), 12.0 * 39.5 * D),
    # header 2x8 from 82.5 to 89.75, cap 1.5 on it, 94.125 - 91.25 = 2.875 left
    back("over the header, first", 64.75, 79.25, (91.25, 94.125), BAY * 2.875 * D),
    back("over the header, second", 80.75, 95.25, (91.25, 94.125), BAY * 2.875 * D),
    back("over the header, third", 96.75, 111.25, (91.25, 94.125), BAY * 2.875 * D),
    back("over the header, last", 112.75, 127.75, (91.25, 94.125), 15.0 * 2.875 * D),
    # header is 1.5 + 0.5 + 1.5 deep from the outside, so 2.0 are left towards the room
    back("in front of the header", 64.75, 127.75, (82.5, 89.75), 63.0 * 7.25 * 2.0),
)
BACK_PIPED_CAVITIES = (
    CavityFact(
        "Back wall",
        "bay with the box (4 x 4 x 2.125) and both pipes",
        (LONG - 159.25) * IN,
        (LONG - 144.75) * IN,
        1.5 * IN,
        94.125 * IN,
        (BAY * PRECUT * D - 4 * 4 * 2.125 - PIPE * (40.0 - 1.5) - PIPE * (159.25 - 155.0) + PIPE_MEETING) * IN3,
        1e-4,
    ),
    CavityFact(
        "Back wall",
        "bay into which the level pipe comes through a stud, as far as 172",
        (LONG - 175.25) * IN,
        (LONG - 160.75) * IN,
        1.5 * IN,
        94.125 * IN,
        (BAY * PRECUT * D - PIPE * (172.0 - 160.75)) * IN3,
        1e-4,
    ),
)

# ---------------------------------------------------------------- front wall, studs 1.5 to 116.125

FRONT_TOP = 116.125
FRONT_CAVITIES = (
    # block 7 to 15.25 at 61.5 to 63; behind the flat stud (d 0 to 4) the bay runs on past the block
    front(
        "corner bay with flat stud and block",
        1.5,
        15.25,
        (1.5, FRONT_TOP),
        (13.75 * D - 5.5 * 1.5) * FRONT_STUD - 8.25 * 1.5 * D,
    ),
    front("bay 16 to 32 under its block", 16.75, 31.25, (1.5, 60.0), BAY * 58.5 * D),
    front("bay 16 to 32 over its block", 16.75, 31.25, (61.5, FRONT_TOP), BAY * (FRONT_TOP - 61.5) * D),
    front("bay 32 to 48 under its block", 32.75, 47.25, (1.5, 61.5), BAY * 60.0 * D),
    front("bay 32 to 48 over its block", 32.75, 47.25, (63.0, FRONT_TOP), BAY * (FRONT_TOP - 63.0) * D),
    # no cap on the door header: three bays over it (14.5, 14.5, 9.0) join through the 2.0 in in front of it
    front(
        "over and in front of the door header",
        48.75,
        89.75,
        (82.5, FRONT_TOP),
        (14.5 + 14.5 + 9.0) * (FRONT_TOP - 91.75) * D + 41.0 * 9.25 * 2.0,
    ),
    front("narrow bay beside the door", 91.25, 95.25, (1.5, FRONT_TOP), 4.0 * FRONT_STUD * D),
    front("bay 96 to 112 under its block", 96.75, 111.25, (1.5, 60.0), BAY * 58.5 * D),
    front("bay 96 to 112 over its block", 96.75, 111.25, (61.5, FRONT_TOP), BAY * (FRONT_TOP - 61.5) * D),
    front("under the sill, first", 115.75, 127.25, (1.5, 34.5), 11.5 * 33.0 * D),
    front("under the sill, second", 128.75, 143.25, (1.5, 34.5), BAY * 33.0 * D),
    front("under the sill, last", 144.75, 156.75, (1.5, 34.5), 12.0 * 33.0 * D),
    # boards at both faces: 5.5 - 2 x 1.5 = 2.5 between them, closed above by the cap
    front("closed pocket in the window header", 112.75, 159.75, (82.5, 91.75), 47.0 * 9.25 * 2.5),
    front("over the window header, first", 112.75, 127.25, (93.25, FRONT_TOP), BAY * (FRONT_TOP - 93.25) * D),
    front("over the window header, second", 128.75, 143.25, (93.25, FRONT_TOP), BAY * (FRONT_TOP - 93.25) * D),
    front("over the window header, last", 144.75, 159.75, (93.25, FRONT_TOP), 15.0 * (FRONT_TOP - 93.25) * D),
    front("bay after the window, under its block", 161.25, 175.25, (1.5, 61.5), 14.0 * 60.0 * D),
    front("bay after the window, over its block", 161.25, 175.25, (63.0, FRONT_TOP), 14.0 * (FRONT_TOP - 63.0) * D),
    front("last bay under its block", 176.75, 186.5, (1.5, 60.0), 9.75 * 58.5 * D),
    front("last bay over its block", 176.75, 186.5, (61.5, FRONT_TOP), 9.75 * (FRONT_TOP - 61.5) * D),
    front("between the corner studs", 188.0, 190.5, (1.5, FRONT_TOP), 2.5 * FRONT_STUD * D),
)

# ---------------------------------------------------------------- side walls, under the rake


def ceiling(x: float) -> float:
    """in: underside of the lower raked plate, x from the front. 117.625 at x = -5.5, falling 11 in 60; the plate is
    1.5 x 61/60 = 1.525 upright."""
    return 117.625 - 11.0 / 60.0 * (x + 5.5) - 1.525


def raked(x0: float, x1: float, z0: float) -> float:
    """in3: a bay from z0 up to the raked plate; the mean of its two heights, since its top is straight."""
    return (x1 - x0) * ((ceiling(x0) + ceiling(x1)) / 2.0 - z0) * D


# The brace is 4.375 wide along the level and rises 4 in 3, so it is 4.375 x 4/3 high upright; 0.75 deep.
BRACE_UPRIGHT = 4.375 * 4.0 / 3.0


def _side(wall: str, what: str, x: tuple[float, float], z: tuple[float, float], cubic_inches: float) -> CavityFact:
    """The west wall is drawn from left to right as seen from inside, the east wall from right to left."""
    x0, x1 = x if wall == "West wall" else (SIDE - x[1], SIDE - x[0])
    return CavityFact(wall, what, x0 * IN, x1 * IN, z[0] * IN, z[1] * IN, cubic_inches * IN3)


WEST_CAVITIES = (
    _side(
        "West wall",
        "raked, 16 to 32, over its block",
        (16.75, 31.25),
        (49.5, ceiling(16.75)),
        raked(16.75, 31.25, 49.5),
    ),
    # the brace crosses this bay between z = 5.83 and 31.0
    _side(
        "West wall",
        "16 to 32 under its block, brace let in",
        (16.75, 31.25),
        (1.5, 48.0),
        BAY * 46.5 * D - BAY * BRACE_UPRIGHT * 0.75,
    ),
    _side(
        "West wall",
        "raked, 96 to 112, over its block",
        (96.75, 111.25),
        (51.0, ceiling(96.75)),
        raked(96.75, 111.25, 51.0),
    ),
    _side("West wall", "96 to 112 under its block", (96.75, 111.25), (1.5, 49.5), BAY * 48.0 * D),
)
WEST_SLIVER = _side("West wall", "gap of 1/4 in", (112.75, 113.0), (1.5, ceiling(112.75)), raked(112.75, 113.0, 1.5))
EAST_LEFTS = (1.5, 19.25, 35.25, 51.25, 67.25, 83.25, 99.25)
EAST_RIGHTS = (17.75, 33.75, 49.75, 65.75, 81.75, 97.75, 113.0)
EAST_CAVITIES = tuple(
    fact
    for n, (x0, x1) in enumerate(zip(EAST_LEFTS, EAST_RIGHTS, strict=True), start=1)
    for fact in (
        _side("East wall", f"bay {n} under the blocks", (x0, x1), (1.5, 36.0), (x1 - x0) * 34.5 * D),
        _side("East wall", f"bay {n} between the blocks", (x0, x1), (37.5, 72.0), (x1 - x0) * 34.5 * D),
        _side("East wall", f"bay {n} under the rake", (x0, x1), (73.5, ceiling(x0)), raked(x0, x1, 73.5)),
    )
)
STUDIO_CAVITIES = (
    *BACK_CAVITIES,
    *BACK_PIPED_CAVITIES,
    *FRONT_CAVITIES,
    *WEST_CAVITIES,
    *EAST_CAVITIES,
)
STUDIO_CAVITY_COUNTS = {
    "Front wall": len(FRONT_CAVITIES),
    "Back wall": len(BACK_CAVITIES) + len(BACK_PIPED_CAVITIES),
    "East wall": len(EAST_CAVITIES),
    "West wall": 7 * 2,
}
"""Cavities wider than half an inch, without the notches at the ends of the front's and the back's cap plate: the side
walls' cap plates fill those but for a wedge."""

CORNER_NOTCH = 5.5 * 1.5 * 5.5 * IN3
"""m3: each end of the front's and the back's upper top plate, if the neighbour's lapping plate is not counted."""


def studio_world(x: float, y: float, z: float) -> tuple[float, float, float]:
    """World m of a point of the studio (its own axes, in): site (600, 240, 36), building (24, -12, 6) in it, turned by
    the direction (0.96, 0.28)."""
    return (
        (624.0 + 0.96 * x - 0.28 * y) * IN,
        (228.0 + 0.28 * x + 0.96 * y) * IN,
        (42.0 + z) * IN,
    )


PLAIN_BAY_CENTRE = studio_world(LONG - 24.0, SIDE + 2 * D - D / 2, 1.5 + PRECUT / 2)
"""World centre of the back wall's bay between 16 and 32 (drawn from the east end, 5.5 deep behind y = 125.5)."""

# ---------------------------------------------------------------- steel walls, m


def c_area(web: float, flange: float, lip: float, mils_design: float) -> float:
    """m2 of a lipped C with sharp corners, sizes in inches: web, two flanges, two lips, corners once."""
    t = mils_design
    return t * (web + 2 * (flange - t) + 2 * (lip - t)) * IN**2


C600 = c_area(6.0, 1.625, 0.5, 0.0451)
C800 = c_area(8.0, 1.625, 0.5, 0.0451)
C362 = c_area(3.625, 1.375, 0.375, 0.0346)
T_A, T_B = 0.0451 * IN, 0.0346 * IN
CLEAR_A = 108 * IN - 2 * T_A
CLEAR_B = 96 * IN - 2 * T_B
DEPTH_A, DEPTH_B = 6.0 * IN, 3.625 * IN
OVER_DOOR = (108 - 84 - 8) * IN - 3 * T_A
"""Clear height over the header: two header tracks and the top track."""

WALL_A_VOLUMES = {
    # backs of webs on the marks, every C open to the same side: one C lies in each bay of 16 in
    **{f"bay {k}": (16 * IN * DEPTH_A - C600) * CLEAR_A for k in (0, 1, 2, 6, 7)},
    "last bay, both studs open into it": (16 * IN * DEPTH_A - 2 * C600) * CLEAR_A,
    # stud 3 stands at 48 in, the left jamb begins at 54 - 3.25 = 50.75
    "narrow bay left of the door": (2.75 * IN * DEPTH_A - C600) * CLEAR_A,
    # the right jamb ends at 90 + 3.25 = 93.25, stud 6 stands at 96
    "narrow bay right of the door": 2.75 * IN * DEPTH_A * CLEAR_A,
    "closed pocket, left jamb": (3.25 * IN * DEPTH_A - 2 * C600) * CLEAR_A,
    "closed pocket, right jamb": (3.25 * IN * DEPTH_A - 2 * C600) * CLEAR_A,
    "closed pocket, header": 36 * IN * (8.0 * IN * DEPTH_A - 2 * C800),
    # cripples at 64 and 80 in, opening from 54 to 90
    "over the header, first": 10 * IN * DEPTH_A * OVER_DOOR,
    "over the header, second": (16 * IN * DEPTH_A - C600) * OVER_DOOR,
    "over the header, third": (10 * IN * DEPTH_A - C600) * OVER_DOOR,
}
WALL_B_VOLUMES = {
    **{f"bay {k}": (24 * IN * DEPTH_B - C362) * CLEAR_B for k in range(7)},
    "last bay, both studs open into it": (24 * IN * DEPTH_B - 2 * C362) * CLEAR_B,
}

# ---------------------------------------------------------------- two-storey house, m


@dataclass(frozen=True, slots=True)
class HouseWallFact:
    """What holds of a wall of the house before anybody frames it."""

    stud_depth: float
    stud_layer_volume: float
    """m3 of the stud layer, openings not taken out."""
    opening_area: float
    """m2 of doors and windows."""
    declared_gross_area: float
    """m2, middle plane of the whole wall."""
    external: bool
    recess_volume: float = 0.0
    """m3 of the stud layer that a recess takes."""


def _mitred(length: float, opening_area: float) -> HouseWallFact:
    """Mitred at 45 degrees: a layer is as long as at its middle. Studs begin 22 + 38 + 12 = 72 mm behind the outside
    face, so their middle is at 72 + 70 = 142 mm, the wall's middle at 112.5 mm."""
    return HouseWallFact(
        0.140, (length - 2 * 0.142) * 2.5 * 0.140, opening_area, (length - 2 * 0.1125) * 2.5, external=True
    )


def _under_roof(x0: float, x1: float) -> float:
    """m2 of a wall across the house from y = x0 to x1: 2.4 high at y = 0 and 7, 4.15 in the middle."""
    return (x1 - x0) * (2.4 + x0 / 2 + 4.15) / 2


WINDOW_12 = 1.2 * 1.2
HOUSE_WALLS = {
    "South 0": _mitred(9.0, 1.8 * 1.2 + 1.01 * 2.11),
    "East 0": _mitred(7.0, WINDOW_12),
    "North 0": _mitred(9.0, WINDOW_12 + 1.8 * 2.11),
    "West 0": _mitred(7.0, 1.5 * 1.2),
    "Sound wall 0": HouseWallFact(0.095, 6.55 * 2.5 * 0.095, 0.9 * 2.11, 6.55 * 2.5, external=False),
    # recess 0.4 x 0.6, from the lining's face at -60.5 mm to +2.5 mm: 63 deep, 13 of it lining, 50 in the studs
    "Partition 0": HouseWallFact(
        0.095, 3.5015 * 2.5 * 0.095, 0.9 * 2.11, 3.5015 * 2.5, external=False, recess_volume=0.4 * 0.6 * 0.050
    ),
    "South 1": HouseWallFact(0.140, 8.55 * 2.4 * 0.140, 2 * WINDOW_12, 8.55 * 2.4, external=True),
    "North 1": HouseWallFact(0.140, 8.55 * 2.4 * 0.140, WINDOW_12 + 0.6 * 0.6, 8.55 * 2.4, external=True),
    "West gable 1": HouseWallFact(
        0.140, _under_roof(0.0, 7.0) * 0.140, 1.8 * 1.4, _under_roof(0.0, 7.0), external=True
    ),
    "East gable 1": HouseWallFact(
        0.140, _under_roof(0.0, 7.0) * 0.140, WINDOW_12, _under_roof(0.0, 7.0), external=True
    ),
    "Cross partition 1": HouseWallFact(
        0.095, _under_roof(0.225, 6.775) * 0.095, 0.9 * 2.11, _under_roof(0.225, 6.775), external=False
    ),
    # its top slopes through the thickness: 2.4 + 3.0 / 2 = 3.9 in the middle plane, at y = 4.0
    "Long partition 1": HouseWallFact(0.095, 4.2145 * 3.9 * 0.095, 0.9 * 2.11, 4.2145 * 3.9, external=False),
}
HOUSE_ROOMS = {
    "South 0": ("Living room and kitchen", "Hall"),
    "East 0": ("Hall", "Workroom"),
    "North 0": ("Workroom", "Living room and kitchen"),
    "West 0": ("Living room and kitchen",),
    "South 1": ("South-east bedroom", "West bedroom"),
    "North 1": ("West bedroom", "Bathroom"),
    "West gable 1": ("West bedroom",),
    "East gable 1": ("Bathroom", "South-east bedroom"),
}
"""Rooms inside each outside wall."""


def house_world(x: float, y: float, z: float) -> tuple[float, float, float]:
    """World m of a point of the house (its own axes, m): site (125, 40, 12), building (8, 3, 0.45) in it, turned by the
    direction (0.8, 0.6)."""
    return (133.0 + 0.8 * x - 0.6 * y, 43.0 + 0.6 * x + 0.8 * y, 12.45 + z)
