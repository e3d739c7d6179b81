"""Roles of the members of modelled frames, from shape and place; words only where these leave a tie."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
import shapely
from shapely import Polygon, box

from geometry.solids import Prism, areal
from takeoff.framing.frame_depth import depth_of_frame, is_panel
from takeoff.framing.member_shapes import shapes_of
from takeoff.framing.modelled import read_frame
from takeoff.framing.role_words import is_insulation, is_service, role_in_words
from takeoff.model import Frame, MemberRole, Opening
from tests.frame_builder import (
    DEPTH,
    HEAD,
    HEIGHT,
    Piece,
    T,
    around,
    at_depth,
    c_section,
    clipped,
    door,
    header,
    joined,
    layer_of,
    leaning,
    lying_section,
    opening,
    part,
    parts_of,
    piece,
    plain,
    plates,
    roles_by_id,
    round_pipe,
    shifted,
    studs,
    upright_section,
    window,
    wrong_roles,
)


def frame_of(pieces: Sequence[Piece], *, depth: float = DEPTH, openings: Sequence[Opening] = ()) -> Frame:
    frame = read_frame(layer_of(parts_of(pieces), depth=depth, openings=openings))
    assert frame is not None
    return frame


def role_of(frame: Frame, start: str) -> set[str]:
    return {role for name, role in roles_by_id(frame).items() if name.startswith(start)}


@pytest.mark.parametrize(
    "pieces",
    [
        plain(),
        door([header(1.2, 2.2)]),
        door([header(1.2, 2.2, 0.2, 0.0, 0.038), header(1.2, 2.2, 0.2, 0.102, 0.14)]),
        door([header(1.2, 2.2, 0.2, 0.0, 0.019), header(1.2, 2.2, 0.2, 0.121, 0.14)]),
        door([header(1.2, 2.2, 0.2, 0.0355 * n, 0.0355 * n + 0.0335) for n in range(4)]),
        door([header(1.2, 2.2, 0.2, 0.0, 0.07)]),
        door([header(1.2, 2.2, HEIGHT - T - HEAD)]),
        door([("header", piece(1.2 - T, HEAD + n * T, 2.2 + T, HEAD + (n + 1) * T)) for n in range(3)]),
        window(),
        window(over=(), under=()),
        window(over=(), under=(1.2, 1.7, 2.2 - T)),
        shifted(window(), 0.0, -0.45),
        shifted(window(), 7.0, 3.0),
    ],
)
def test_every_member_gets_the_role_that_it_was_drawn_for(pieces: list[Piece]):
    assert wrong_roles(frame_of(pieces)) == {}


def test_opening_elements_give_the_same_roles_as_the_gap_alone():
    exact = frame_of(window(), openings=[opening(1.2, 0.9, 2.2, HEAD)])
    small = frame_of(window(), openings=[opening(1.23, 0.93, 2.17, HEAD - 0.03)])
    large = frame_of(window(), openings=[opening(1.17, 0.87, 2.23, HEAD + 0.03)])
    assert [wrong_roles(frame) for frame in (exact, small, large)] == [{}, {}, {}]


def test_double_plates_are_plates_and_a_header_under_them_is_a_header():
    pieces = [
        *plates(4.0, [(1.2, 2.2)]),
        ("top_plate", piece(0.0, HEIGHT - 2 * T, 4.0, HEIGHT - T)),
        *studs([0.0, 0.6, 2.8, 3.4, 4.0 - T], top=HEIGHT - 2 * T),
        *clipped(around(1.2, 2.2), HEIGHT - 2 * T),
        header(1.2, 2.2, HEIGHT - 2 * T - HEAD),
    ]
    assert wrong_roles(frame_of(pieces)) == {}


def test_raked_plates_and_the_studs_under_them():
    upper = Prism(Polygon([(0, 2.362), (4, 4.362), (4, 4.4), (0, 2.4)]), 0.0, DEPTH)
    lower = Prism(Polygon([(0, 2.324), (4, 4.324), (4, 4.362), (0, 2.362)]), 0.0, DEPTH)
    gable = [
        ("stud", Prism(Polygon([(x, T), (x + T, T), (x + T, 2.324 + (x + T) / 2), (x, 2.324 + x / 2)]), 0.0, DEPTH))
        for x in (0.0, 0.6, 1.2, 1.8, 2.4, 3.0, 4.0 - T)
    ]
    pieces = [("bottom_plate", piece(0, 0, 4, T)), ("top_plate", upper), ("top_plate", lower), *gable]
    assert wrong_roles(frame_of(pieces)) == {}


def test_plates_of_stacked_frames_are_plates_of_their_own_frame():
    assert wrong_roles(frame_of([*plain(), *shifted(plain(), 0.0, HEIGHT)])) == {}
    assert wrong_roles(frame_of([*plain(), *shifted(plain(), 0.0, HEIGHT + 0.2)])) == {}


def test_frames_of_two_heights_have_plates_on_both_levels():
    tall = shifted([*plates(2.0, height=2.9), *studs([0.0, 0.6, 1.2, 2.0 - T], top=2.9 - T)], 2.003, 0.0)
    assert wrong_roles(frame_of([*plates(2.0), *studs([0.0, 0.6, 1.2, 2.0 - T]), *tall])) == {}


def test_header_over_several_windows_is_one_header():
    pieces = [
        *plates(4.0),
        *studs([0.0, 4.0 - T]),
        ("king_stud", piece(0.6, T, 0.6 + T, HEIGHT - T)),
        ("king_stud", piece(3.2, T, 3.2 + T, HEIGHT - T)),
        *[("jack_stud", piece(x, T, x + T, 2.0)) for x in (0.638, 1.9, 3.162)],
        ("header", piece(0.638, 2.0, 3.2, 2.2)),
        ("sill", piece(0.676, 0.862, 1.9, 0.9)),
        ("sill", piece(1.938, 0.862, 3.162, 0.9)),
        *[("cripple", piece(x, T, x + T, 0.862)) for x in (1.0, 1.5, 2.3, 2.8)],
        *[("cripple", piece(x, 2.2, x + T, HEIGHT - T)) for x in (1.0, 1.6, 2.2, 2.8)],
    ]
    assert wrong_roles(frame_of(pieces)) == {}


def test_pieces_on_and_in_the_face_are_told_from_studs():
    pieces = [
        *plain(),
        ("brace", Prism(Polygon([(0.1, 0.1), (0.19, 0.1), (2.0, 2.2), (1.91, 2.2)]), 0.0, 0.019)),
        ("furring", piece(0.0, 1.5, 4.0, 1.56, 0.12, 0.14)),
        ("furring", piece(0.6, T, 0.638, HEIGHT - T, 0.115, 0.14)),
        ("backing", piece(1.5, T, 1.589, HEIGHT - T, 0.102, 0.14)),
    ]
    assert wrong_roles(frame_of(pieces)) == {}


def test_blocking_upright_flat_or_short_is_blocking():
    pieces = [
        *plain(),
        ("blocking", piece(0.638, 1.2, 1.2, 1.2 + T)),
        ("blocking", piece(1.238, 1.2, 1.8, 1.34, 0.102, 0.14)),
        ("stud", piece(1.9, T, 1.9 + T, HEIGHT - T)),
        ("blocking", piece(1.838, 1.0, 1.9, 1.14)),
    ]
    assert wrong_roles(frame_of(pieces)) == {}


def test_studs_of_two_rows_are_studs():
    front, back = (
        [*plates(4.0), *studs([0.6 * n for n in range(6)])],
        [*plates(4.0), *studs([0.3 + 0.6 * n for n in range(6)])],
    )
    rows = [*at_depth(front, 0.0, 0.089), *at_depth(back, 0.151, 0.24)]
    assert wrong_roles(frame_of(rows, depth=0.24)) == {}


def test_steel_studs_and_tracks_and_their_section():
    track, section = c_section(width=0.04, depth=DEPTH, lip=0.0012), c_section()
    pieces: list[Piece] = [
        ("stud", upright_section(section, x, 0.002, HEIGHT - 0.002)) for x in (0, 0.4, 0.8, 1.2, 1.9)
    ]
    pieces += [("bottom_plate", lying_section(track, 0.0, 2.0, 0.0))]
    pieces += [("top_plate", lying_section(track, 0.0, 2.0, HEIGHT, down=True))]
    frame = frame_of(pieces)
    assert wrong_roles(frame) == {}
    assert {member.section for member in frame.members} == {
        "41 x 140 mm, thin-walled",
        "40 x 140 mm, thin-walled",
    }


def test_leaning_and_untidy_members_keep_their_roles():
    pieces = leaning(window(), {4: 1.5, 5: -2.0, 6: 0.8})
    short = [
        one
        for n, (name, solid) in enumerate(pieces)
        for one in (clipped([(name, solid)], HEIGHT - T - 0.001 * (n % 6)) if name == "stud" else [(name, solid)])
    ]
    assert wrong_roles(frame_of(short)) == {}


def test_what_is_no_framing_is_an_obstruction_with_its_reason():
    parts = [
        *parts_of(plain()),
        part("pipe", round_pipe(0.1, 3.9, 0.07, 1.0, 0.025), ifc_class="IfcBuildingElementProxy"),
        part("duct", piece(0.7, 0.3, 0.9, 2.0, 0.02, 0.12), ifc_class="IfcDuctSegment"),
        part("box", piece(1.4, 0.5, 1.5, 0.6, 0.0, 0.05), ifc_class="IfcBuildingElementProxy", name="Junction Box"),
        part("slab", piece(2.5, 1.0, 2.9, 1.2), ifc_class="IfcSlab"),
        part("other", piece(3.1, 1.0, 3.2, 1.3), ifc_class="IfcBuildingElementProxy", source="services.ifc"),
    ]
    frame = read_frame(layer_of(parts, box(0, 0, 4, HEIGHT)))
    assert frame is not None
    found = {member.member_id: member for member in frame.members if member.role is MemberRole.OBSTRUCTION}
    assert set(found) == {"pipe", "duct", "box", "slab", "other"}
    assert found["pipe"].section == "diameter 50 mm"
    assert all(member.reason for member in frame.members)


def test_shape_wins_over_a_wrong_name():
    parts = [part(one.global_id, *one.solids, name="Bottom plate") for one in parts_of(plain())]
    frame = read_frame(layer_of(parts))
    assert frame is not None
    assert wrong_roles(frame) == {}


def test_words_break_a_tie():
    lone = piece(0.9, 1.0, 1.1, 1.3)
    for name, role in (
        ("Klossning", MemberRole.BLOCKING),
        ("Entretoise", MemberRole.BLOCKING),
        ("Xyz", MemberRole.OTHER),
    ):
        parts = [*parts_of(plain()), part("lone", lone, name=name)]
        frame = read_frame(layer_of(parts))
        assert frame is not None
        assert roles_by_id(frame)["lone"] == role


@pytest.mark.parametrize(
    ("words", "role"),
    [
        (("", "Wandstiel 60x120"), MemberRole.STUD),
        (("", "Montant intermédiaire"), MemberRole.STUD),
        (("", "Oberer Rähm"), MemberRole.TOP_PLATE),
        (("", "Lisse basse"), MemberRole.BOTTOM_PLATE),
        (("", "Fenstersturz"), MemberRole.HEADER),
        (("", "KingStud"), MemberRole.KING_STUD),
        (("STUD", "M-12"), MemberRole.STUD),
        (("", "M-12"), None),
    ],
)
def test_role_words_in_several_languages(words: tuple[str, str], role: MemberRole | None):
    # Everyday trade words, from memory; no published source.
    assert role_in_words(*words) is role


def test_services_and_insulation_by_class_or_words():
    assert is_service("IfcPipeSegment", "", "")
    assert is_service("IfcBuildingElementProxy", "HVAC Duct 200", "")
    assert not is_service("IfcMember", "Pipe chase stud", "")
    assert is_insulation("IfcBuildingElementPart", "", "Dämmung MW 035")
    assert not is_insulation("IfcMember", "STUD", "Spruce C24")


def test_panels_are_told_from_members():
    assert is_panel(piece(0.0, 0.0, 1.2, 2.4, 0.14, 0.152))
    assert is_panel(piece(0.0, 0.0, 0.61, 2.4, 0.14, 0.2))
    assert is_panel(Prism(areal(box(0, 0, 4, 2.4).difference(box(1, 0.9, 2.5, 2.1))), 0.14, 0.153))
    assert not is_panel(piece(0.0, 2.0, 3.0, 2.286, 0.0, 0.038))  # 2x12 in header
    assert not is_panel(piece(0.0, 2.0, 3.0, 2.4, 0.0, 0.045))  # deep laminated header
    assert not is_panel(piece(0.0, 1.0, 4.0, 1.14, 0.0, 0.019))  # let-in ribbon
    assert not is_panel(upright_section(c_section(), 0.0, 0.0, 2.4))
    assert not is_panel(joined(window()))


def test_depth_of_frame_is_that_of_the_studs_not_of_what_sticks_out():
    frame = [solid for _, solid in plain()]
    ledger = piece(0.0, 2.0, 4.0, 2.3, 0.14, 0.178)
    sheathing = piece(0.0, 0.0, 4.0, 2.4, -0.012, 0.0)
    battens = [piece(x, 0.0, x + 0.05, 2.4, 0.14, 0.165) for x in (0.0, 0.6, 1.2, 1.8, 2.4)]
    brace = Prism(Polygon([(0.1, 0.1), (0.19, 0.1), (2.0, 2.2), (1.91, 2.2)]), 0.0, 0.019)
    assert depth_of_frame([*frame, ledger, sheathing, *battens, brace]) == pytest.approx((0.0, DEPTH), abs=1e-12)


def test_depth_of_two_rows_goes_across_both():
    front, back = (
        [*plates(4.0), *studs([0.6 * n for n in range(6)])],
        [*plates(4.0), *studs([0.3 + 0.6 * n for n in range(6)])],
    )
    rows = [solid for _, solid in [*at_depth(front, 0.0, 0.089), *at_depth(back, 0.151, 0.24)]]
    assert depth_of_frame(rows) == pytest.approx((0.0, 0.24), abs=1e-12)


def test_depth_of_staggered_studs_is_that_of_their_plates():
    front, back = studs([0.0, 0.8, 1.6, 2.4], far=0.089), studs([0.4, 1.2, 2.0], near=0.051)
    solids = [solid for _, solid in [*plates(2.5), *front, *back]]
    assert depth_of_frame(solids) == pytest.approx((0.0, DEPTH), abs=1e-12)


def test_depth_of_nothing_raises():
    with pytest.raises(ValueError, match="no solid"):
        depth_of_frame([])
    with pytest.raises(ValueError, match="not a board"):
        depth_of_frame([piece(0, 0, 1.2, 2.4, 0, 0.012)])


def test_slope_and_sides_of_a_leaning_stud():
    leaning = shapes_of([Prism(shapely.affinity.rotate(box(1.0, 0.0, 1.0 + T, 2.4), -2.0), 0.0, DEPTH)])
    left, right = leaning.sides_at(leaning.middle[:, 1])
    assert right[0] - left[0] == pytest.approx(T / math.cos(math.radians(2.0)), rel=1e-9)
    assert leaning.across[0] == pytest.approx(T, rel=1e-9)
