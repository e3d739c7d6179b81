"""The frames of the garden studio, piece by piece, in inches.

Frame axes of each wall: x along the wall, d from the outside face of the studs (0) to their inside face (5.5), z up
from the underside of the bottom plate. Every piece is a prism: an elevation outline swept from d0 to d1.

Sizes: 2x6 is 1.5 x 5.5, 2x8 is 1.5 x 7.25, 2x10 is 1.5 x 9.25, 1x4 is 0.75 x 3.5 (PS 20, dry). Studs at 16 on centre.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ifc_shapes import Points, rectangle

DEPTH = 5.5
THICK = 1.5
CLADDING, SHEATHING, LINING = 0.75, 0.5, 0.5
"""The other layers, outside the frame and inside it."""
LEVEL_LENGTH = 192.0
"""Front and back walls run through; the side walls stand between them."""
SIDE_LENGTH = 114.5
RAKE = 11.0 / 60.0
"""Fall of the side walls' plates from front to back; 11, 60, 61 is a right triangle, so lengths stay rational."""
PLATE_UPRIGHT = THICK * 61.0 / 60.0
"""Upright thickness of a raked plate: 1.525."""
BACK_SEAT = 95.625
"""Top of the back wall's lower top plate, where the side walls' upper plates lie on it: 1.5 + 92.625 + 1.5."""
FRONT_SEAT = BACK_SEAT + RAKE * (SIDE_LENGTH + DEPTH)
"""The same at the front: 117.625."""
FRONT_HEIGHT = FRONT_SEAT + THICK
BACK_HEIGHT = BACK_SEAT + THICK


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of a frame."""

    name: str
    kind: str
    """STUD, PLATE, HEADER, CAP (a flat board on a header), SILL, BLOCK, BRACE or SPACER."""
    outline: Points
    d0: float = 0.0
    d1: float = DEPTH


def stud(name: str, x0: float, z0: float, z1: float) -> Piece:
    """An upright 2x6 on edge, its left face at x0."""
    return Piece(name, "STUD", rectangle(x0, z0, x0 + THICK, z1))


def level(name: str, kind: str, x0: float, x1: float, z0: float) -> Piece:
    """A level 2x6 lying flat, its underside at z0."""
    return Piece(name, kind, rectangle(x0, z0, x1, z0 + THICK))


def on_layout(marks: Iterable[float], name: str, z0: float, z1: float) -> list[Piece]:
    """Studs centred on layout marks."""
    return [stud(f"{name} {mark:g}", mark - THICK / 2, z0, z1) for mark in marks]


def header(
    name: str, x0: float, x1: float, z0: float, depth: float, boards: Iterable[tuple[float, float]]
) -> list[Piece]:
    """Boards on edge, each from d0 to d1."""
    return [
        Piece(f"{name} board {n}", "HEADER", rectangle(x0, z0, x1, z0 + depth), d0, d1)
        for n, (d0, d1) in enumerate(boards, start=1)
    ]


def level_plates(length: float, seat: float, doors: Iterable[tuple[float, float]] = ()) -> list[Piece]:
    """Bottom plate (cut at doors), lower top plate, and the upper one that leaves the corners to the side walls."""
    edges = [0.0, *(edge for door in doors for edge in door), length]
    pieces = [
        level(f"Bottom plate {n}", "PLATE", x0, x1, 0.0)
        for n, (x0, x1) in enumerate(zip(edges[::2], edges[1::2], strict=True), start=1)
    ]
    pieces.append(level("Top plate", "PLATE", 0.0, length, seat - THICK))
    pieces.append(level("Cap plate", "PLATE", DEPTH, length - DEPTH, seat))
    return pieces


def front_frame() -> list[Piece]:
    """Front wall: a door header built up to 3.5 in, a window header of two boards 2.5 in apart under a cap.

    The door header leaves 2 in towards the room, open to the bays over it; the gap in the window header is closed.
    """
    seat = FRONT_SEAT
    top = seat - THICK
    pieces = level_plates(LEVEL_LENGTH, seat, [(50.25, 88.25)])
    pieces += [
        stud("End stud left", 0.0, THICK, top),
        Piece("Corner stud left, flat", "STUD", rectangle(1.5, THICK, 7.0, top), 4.0, DEPTH),
        stud("Corner stud right", 186.5, THICK, top),
        stud("End stud right", 190.5, THICK, top),
    ]
    pieces += on_layout([16, 32, 96, 176], "Stud", THICK, top)
    pieces += [stud(f"King stud {x:g}", x, THICK, top) for x in (47.25, 89.75, 111.25, 159.75)]
    pieces += [stud(f"Jack stud {x:g}", x, THICK, 82.5) for x in (48.75, 88.25, 112.75, 158.25)]
    pieces += header("Door header", 48.75, 89.75, 82.5, 9.25, [(0.0, 1.5), (2.0, 3.5)])
    pieces.append(Piece("Door header spacer", "SPACER", rectangle(48.75, 82.5, 89.75, 91.75), 1.5, 2.0))
    pieces += header("Window header", 112.75, 159.75, 82.5, 9.25, [(0.0, 1.5), (4.0, DEPTH)])
    pieces.append(level("Window header cap", "CAP", 112.75, 159.75, 91.75))
    pieces += on_layout([64, 80], "Cripple over", 91.75, top)
    pieces += on_layout([128, 144], "Cripple over", 93.25, top)
    pieces.append(level("Window sill", "SILL", 114.25, 158.25, 34.5))
    pieces += on_layout([115, 128, 144, 157.5], "Cripple under", THICK, 34.5)
    blocks = [(7.0, 15.25), (16.75, 31.25), (32.75, 47.25), (96.75, 111.25), (161.25, 175.25), (176.75, 186.5)]
    pieces += [level(f"Block {n}", "BLOCK", x0, x1, 60.0 + 1.5 * (n % 2)) for n, (x0, x1) in enumerate(blocks, start=1)]
    return pieces


def back_frame() -> list[Piece]:
    """Back wall: a window that is only a gap between king studs, header and sill; 2 in left in front of the header."""
    top = BACK_SEAT - THICK
    pieces = level_plates(LEVEL_LENGTH, BACK_SEAT)
    pieces += [
        stud("End stud left", 0.0, THICK, top),
        stud("Corner stud left", 1.5, THICK, top),
        Piece("Corner stud right, flat", "STUD", rectangle(185.0, THICK, 190.5, top), 4.0, DEPTH),
        stud("End stud right", 190.5, THICK, top),
    ]
    pieces += on_layout([16, 32, 48, 144, 160, 176], "Stud", THICK, top)
    pieces += [stud(f"King stud {x:g}", x, THICK, top) for x in (63.25, 127.75)]
    pieces += [stud(f"Jack stud {x:g}", x, THICK, 82.5) for x in (64.75, 126.25)]
    pieces += header("Window header", 64.75, 127.75, 82.5, 7.25, [(0.0, 1.5), (2.0, 3.5)])
    pieces.append(Piece("Window header spacer", "SPACER", rectangle(64.75, 82.5, 127.75, 89.75), 1.5, 2.0))
    pieces.append(level("Window header cap", "CAP", 64.75, 127.75, 89.75))
    pieces += on_layout([80, 96, 112], "Cripple over", 91.25, top)
    pieces.append(level("Window sill", "SILL", 66.25, 126.25, 41.0))
    pieces += on_layout([67, 80, 96, 112, 125.5], "Cripple under", THICK, 41.0)
    return pieces


def cap_underside(x: float) -> float:
    """Height of the line between the two raked top plates, x from the front end of a side wall."""
    return FRONT_SEAT - RAKE * (x + DEPTH)


def side_frame(marks: Iterable[float]) -> list[Piece]:
    """A side wall under raked plates; its upper plate laps over the front and the back wall."""
    length, t = SIDE_LENGTH, PLATE_UPRIGHT
    pieces = [
        level("Bottom plate", "PLATE", 0.0, length, 0.0),
        Piece("Top plate", "PLATE", band(0.0, length, -t, 0.0)),
        Piece("Cap plate", "PLATE", cap_outline()),
        raked_stud("End stud front", 0.0),
        raked_stud("End stud back", length - THICK),
    ]
    pieces += [raked_stud(f"Stud {mark:g}", mark - THICK / 2) for mark in marks]
    return pieces


def cap_outline() -> Points:
    """The upper raked plate: a bird's mouth sits on the front wall's plate, a seat cut on the back wall's."""
    front, back, t = -DEPTH, SIDE_LENGTH + DEPTH, PLATE_UPRIGHT
    return [
        (front, FRONT_SEAT),
        (0.0, FRONT_SEAT),
        (0.0, cap_underside(0.0)),
        (SIDE_LENGTH, BACK_SEAT),
        (back, BACK_SEAT),
        (back, cap_underside(back) + t),
        (front, cap_underside(front) + t),
    ]


def band(x0: float, x1: float, low: float, high: float) -> Points:
    """A strip along the rake, its edges at `low` and `high` from the line between the two top plates, upright."""
    return [
        (x0, cap_underside(x0) + low),
        (x1, cap_underside(x1) + low),
        (x1, cap_underside(x1) + high),
        (x0, cap_underside(x0) + high),
    ]


def raked_stud(name: str, x0: float) -> Piece:
    """A stud cut to the slope of the plate over it."""
    x1 = x0 + THICK
    top = [(x1, cap_underside(x1) - PLATE_UPRIGHT), (x0, cap_underside(x0) - PLATE_UPRIGHT)]
    return Piece(name, "STUD", [(x0, THICK), (x1, THICK), *top])


def west_frame() -> list[Piece]:
    """West wall: layout from the front; one row of staggered blocks; a 1x4 let into the outside face.

    The studs are drawn whole, so the brace overlaps them, as in most models. It rises 4 in 3, so its 3.5 in are 4.375
    along the level: 3.5 x 5/4. It stands on the underside of the bottom plate and ends under the upper top plate.
    """
    marks = [16, 32, 48, 64, 80, 96, 112]
    pieces = side_frame(marks)
    lefts = [1.5, *(mark + THICK / 2 for mark in marks[:-1])]
    blocks = zip(lefts, (mark - THICK / 2 for mark in marks), strict=True)
    pieces += [level(f"Block {n}", "BLOCK", x0, x1, 48.0 + 1.5 * (n % 2)) for n, (x0, x1) in enumerate(blocks, start=1)]
    foot = (8.0, 12.375)
    heads = [_brace_head(x) for x in foot]
    pieces.append(Piece("Let-in brace", "BRACE", [(foot[0], 0.0), (foot[1], 0.0), heads[1], heads[0]], 0.0, 0.75))
    return pieces


def _brace_head(foot: float) -> tuple[float, float]:
    """Where an edge of the brace, x = foot + 3/4 z, meets the line between the two top plates."""
    z = (FRONT_SEAT - RAKE * (foot + DEPTH)) / (1.0 + RAKE * 0.75)
    return (foot + 0.75 * z, z)


def east_frame() -> list[Piece]:
    """East wall: layout from the back, so the first bay is 16.25 in wide; two rows of blocks."""
    marks = [18.5, 34.5, 50.5, 66.5, 82.5, 98.5]
    pieces = side_frame(marks)
    lefts = [1.5, *(mark + THICK / 2 for mark in marks)]
    rights = [*(mark - THICK / 2 for mark in marks), SIDE_LENGTH - THICK]
    for row, z in enumerate((36.0, 72.0), start=1):
        pieces += [
            level(f"Block {row}.{n}", "BLOCK", x0, x1, z) for n, (x0, x1) in enumerate(zip(lefts, rights, strict=True))
        ]
    return pieces
