"""Kinds of cavities and the methods of filling them.

Frames are those of `frame_builder`: pieces 38 mm thick, 2.4 m high, 140 mm deep. The hose needs 100 mm here.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest
import shapely

from geometry.solids import Prism, Solid
from geometry.tolerances import Tolerances
from geometry.voids import find_voids
from takeoff.cavity_kinds import FillLimits, bounding_of, kinds_of, measured, method_of
from takeoff.model import CavityKind, Member, MemberRole, Method, Opening, Source
from tests import frame_builder as fb

LIMITS = FillLimits(0.1, 0.025, insulated=True, why="outside wall")
T, DEPTH, HEIGHT, HEAD = fb.T, fb.DEPTH, fb.HEIGHT, fb.HEAD


def kinds(
    pieces: Sequence[fb.Piece], openings: Sequence[Opening] = (), region: Solid | None = None
) -> dict[tuple[float, float], CavityKind]:
    """Kind of each cavity by the left and lower end of its box, m to two decimals."""
    members = [Member(f"m{n}", MemberRole(name), "", Source.MODELLED, solid) for n, (name, solid) in enumerate(pieces)]
    solids = [member.solid for member in members]
    whole = region or Prism(shapely.box(0.0, 0.0, 4.0, HEIGHT), 0.0, DEPTH)
    holes = [opening.solid or Prism(opening.outline, 0.0, DEPTH) for opening in openings]
    found = find_voids(whole, holes, solids, (0.0, DEPTH), Tolerances())
    judged = kinds_of(measured(found.voids), bounding_of(members, openings), LIMITS)
    return {
        (round(void.outline.bounds[0], 2), round(void.outline.bounds[1], 2)): kind
        for void, kind in zip(found.voids, judged, strict=True)
    }


def of(pieces: Sequence[fb.Piece], **changes: object) -> set[CavityKind]:
    return set(kinds(pieces, **changes).values())  # type: ignore[arg-type]


WINDOW = fb.opening(1.2, 0.9, 2.2, HEAD)


def test_a_bay_from_plate_to_plate_is_a_full_height_bay():
    assert of(fb.plain()) == {CavityKind.FULL_HEIGHT}


def test_over_a_header_and_under_a_sill_are_kinds_of_their_own():
    found = kinds(fb.window(), [WINDOW])
    over = {place: kind for place, kind in found.items() if place[1] > HEAD}
    under = {place: kind for place, kind in found.items() if 1.2 <= place[0] < 2.1 and place[1] < 0.1}
    assert set(over.values()) == {CavityKind.OVER_HEADER}
    assert set(under.values()) == {CavityKind.UNDER_SILL}
    assert len(over) == len(under) == 3
    assert set(found.values()) == {CavityKind.FULL_HEIGHT, CavityKind.OVER_HEADER, CavityKind.UNDER_SILL}


def test_a_bay_that_an_opening_bounds_without_header_or_sill_goes_by_the_opening():
    # an opening cut into the middle of a bay: nothing over or under it is drawn
    inside = fb.opening(0.7, 0.9, 1.1, 2.0)
    bay = [*fb.plates(1.2), *fb.studs([0.0, 0.662, 1.1])]
    found = kinds(bay, [inside], Prism(shapely.box(0.0, 0.0, 1.138, HEIGHT), 0.0, DEPTH))
    assert found[0.7, 0.04] is CavityKind.UNDER_SILL
    assert found[0.7, 2.0] is CavityKind.OVER_HEADER


def test_sections_between_blockings_are_told():
    blocks = [("blocking", fb.piece(0.038, z, 0.6, z + T)) for z in (0.8, 1.6)]
    found = kinds([*fb.plain(), *blocks])
    assert [found[0.04, z] for z in (0.04, 0.84, 1.64)] == [CavityKind.BETWEEN_BLOCKINGS] * 3
    assert found[0.64, 0.04] is CavityKind.FULL_HEIGHT


def test_parts_of_a_bay_above_and_below_a_duct_are_no_full_height_bays():
    duct = ("obstruction", fb.piece(0.0, 1.2, 0.6 + T, 1.5))
    found = kinds([*fb.plain(), duct])
    assert [found[0.04, z] for z in (0.04, 1.5)] == [CavityKind.BETWEEN_BLOCKINGS] * 2
    assert found[0.64, 0.04] is CavityKind.FULL_HEIGHT


def test_an_obstruction_in_the_place_of_a_plate_parts_no_bay():
    twin = ("obstruction", fb.piece(0.0, 0.0, 4.0, T))
    assert kinds([*fb.plain(), twin])[0.04, 0.04] is CavityKind.FULL_HEIGHT


def test_a_pipe_that_leaves_a_bay_whole_changes_nothing_of_its_kind():
    pipe = ("obstruction", fb.piece(0.0, 1.2, 0.6 + T, 1.5, 0.05, 0.1))
    assert kinds([*fb.plain(), pipe])[0.04, 0.04] is CavityKind.FULL_HEIGHT


def test_a_void_round_a_door_joins_the_bays_beside_it():
    # Open jambs and header, as the hollows of steel members are: one void up, over and down.
    found = kinds([*fb.plates(4.0), *fb.studs([0.0, 1.0, 2.2, 4.0 - T])], [fb.opening(1.08, T, 2.16, HEAD)])
    assert found[1.04, 0.04] is CavityKind.JOINED


def test_a_bay_under_a_rake_is_a_raked_bay():
    rake = shapely.Polygon([(0, 0), (4, 0), (4, HEIGHT), (0, HEIGHT / 2)])
    studs = [
        (name, Prism(solid.outline.intersection(rake), 0.0, DEPTH))
        for name, solid in fb.studs([0.0, 0.6, 1.2, 1.8, 2.4, 3.0, 3.962])
    ]
    found = of([("bottom_plate", fb.piece(0, 0, 4, T)), *studs], region=Prism(rake, 0.0, DEPTH))
    assert found == {CavityKind.RAKED}


def test_a_level_step_at_the_top_is_no_rake():
    step = shapely.box(0, 0, 4, HEIGHT).difference(shapely.box(0.3, 2.2, 0.45, HEIGHT))
    plate = ("bottom_plate", fb.piece(0.0, 0.0, 4.0, T))
    found = kinds([plate, *fb.studs([0.0, 0.6, 3.962], top=HEIGHT)], region=Prism(step, 0.0, DEPTH))
    assert found[0.04, 0.04] is CavityKind.FULL_HEIGHT


def test_a_bay_that_no_hose_fits_is_narrow():
    found = kinds([*fb.plates(4.0), *fb.studs([0.0, 0.12, 0.6, 4.0 - T])])
    assert found[0.04, 0.04] is CavityKind.NARROW


def test_a_bay_just_as_wide_as_the_hose_is_not_narrow():
    found = kinds([*fb.plates(4.0), *fb.studs([0.0, T + 0.1, 4.0 - T])])
    assert found[0.04, 0.04] is CavityKind.FULL_HEIGHT


def test_a_hollow_between_two_boards_of_a_header_is_a_closed_pocket():
    boards = [fb.header(1.2, 2.2, 0.15, 0.0, 0.04), fb.header(1.2, 2.2, 0.15, 0.1, DEPTH)]
    pieces = [piece for piece in fb.window() if piece[0] != "header"]
    lids = [("blocking", fb.piece(1.2 - T, HEAD + 0.15, 2.2 + T, HEAD + 0.15 + 0.001))]
    found = kinds([*pieces, *boards, *lids], [WINDOW])
    assert found[1.16, 2.05] is CavityKind.CLOSED_POCKET


def test_a_bay_behind_a_flat_stud_that_shows_only_a_crack_is_a_closed_pocket():
    flat = ("stud", fb.piece(0.038, T, 0.59, HEIGHT - T, 0.0, 0.04))
    found = kinds([*fb.plain(), flat])
    assert found[0.04, 0.04] is CavityKind.CLOSED_POCKET


def test_a_bay_half_behind_a_flat_stud_is_no_pocket():
    flat = ("stud", fb.piece(0.038, T, 0.3, HEIGHT - T, 0.0, 0.04))
    assert kinds([*fb.plain(), flat])[0.04, 0.04] is CavityKind.FULL_HEIGHT


def test_bays_open_sideways_behind_shallow_studs_are_joined():
    shallow = [("stud", fb.piece(x, T, x + T, HEIGHT - T, 0.0, 0.06)) for x in (0.6, 1.2)]
    found = kinds([*fb.plates(4.0), *fb.studs([0.0, 1.8, 4.0 - T]), *shallow])
    # three bays and one passage behind their studs; a plain box in elevation
    assert found == {(0.04, 0.04): CavityKind.JOINED, (1.84, 0.04): CavityKind.FULL_HEIGHT}
    beam = [fb.header(0.038, 1.8, 0.2, 0.0, 0.06)]
    over = kinds([*fb.plates(4.0), *fb.studs([0.0, 0.6, 1.2, 1.8, 4.0 - T], top=HEAD), *beam])
    assert CavityKind.JOINED in over.values()


def test_the_hollow_of_a_c_stud_joins_no_bays():
    section = fb.c_section()
    studs = [("stud", fb.upright_section(section, x, T, HEIGHT - T)) for x in (0.6, 1.2)]
    assert of([*fb.plates(4.0), *fb.studs([0.0, 4.0 - T]), *studs]) == {CavityKind.FULL_HEIGHT}


# ---------------------------------------------------------------- methods


@pytest.mark.parametrize(
    ("kind", "width", "method"),
    [
        (CavityKind.FULL_HEIGHT, 0.5, Method.BLOW),
        (CavityKind.RAKED, 0.1, Method.BLOW),
        (CavityKind.NARROW, 0.026, Method.BLOW),
        (CavityKind.NARROW, 0.024, Method.SEAL),
        (CavityKind.CLOSED_POCKET, 0.5, Method.BEFORE_SHEATHING),
        (CavityKind.CLOSED_POCKET, 0.01, Method.BEFORE_SHEATHING),
        (CavityKind.SLIVER, 0.0, Method.SEAL),
        (CavityKind.OPENING_GAP, 1.0, Method.NONE),
        (CavityKind.JOINED, 0.5, Method.BLOW),
    ],
)
def test_the_kind_says_what_cannot_be_filled_from_the_front(kind, width, method):
    chosen, reason = method_of(kind, width, LIMITS)
    assert chosen is method
    assert reason


def test_nothing_is_filled_where_the_wall_is_not_insulated():
    cold = FillLimits(0.1, 0.025, insulated=False, why="inside wall")
    for kind in CavityKind:
        assert method_of(kind, 0.5, cold) == (Method.NONE, "not filled: inside wall")


def test_no_voids_have_no_measures():
    none = measured(())
    assert none.boxes.shape == (0, 4)
    assert kinds_of(none, bounding_of((), ()), LIMITS) == []
