"""Splitting triangle streams into closed shells, and mending flat gaps."""

from __future__ import annotations

import numpy as np
import pytest

from takeoff.reading.closing import close_flat_gaps
from takeoff.reading.shells import split_into_shells, weld
from tests.ifc_builder import BOX_FACES, box_corners


def box(size=(1.0, 1.0, 1.0), at=(0.0, 0.0, 0.0)):
    faces = [triangle for a, b, c, d in BOX_FACES for triangle in ((a, b, c), (a, c, d))]
    return np.array(box_corners(size, at)), np.array(faces)


def together(*meshes):
    starts = np.cumsum([0] + [len(vertices) for vertices, _ in meshes[:-1]])
    return (
        np.concatenate([vertices for vertices, _ in meshes]),
        np.concatenate([faces + start for (_, faces), start in zip(meshes, starts, strict=True)]),
    )


def volume(shell):
    corners = shell.vertices[shell.faces]
    return abs(np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])).sum() / 6)


def test_a_box_is_one_closed_shell():
    (shell,) = split_into_shells(*box())
    assert shell.closed
    assert volume(shell) == pytest.approx(1.0, rel=1e-12)


def test_touching_boxes_that_follow_each_other_stay_apart_even_when_welded():
    vertices, faces = weld(*together(box(), box(at=(1.0, 0.0, 0.0)), box(at=(2.0, 0.0, 0.0))))
    assert len(vertices) == 16
    shells = split_into_shells(vertices, faces)
    assert [shell.closed for shell in shells] == [True] * 3
    assert [volume(shell) for shell in shells] == pytest.approx([1.0] * 3)


def test_boxes_whose_triangles_are_mixed_are_told_apart_by_their_edges():
    vertices, faces = together(box(), box((2.0, 2.0, 2.0), (5.0, 0.0, 0.0)))
    order = np.arange(24).reshape(2, 12).T.ravel()
    shells = split_into_shells(vertices, faces[order])
    assert sorted(volume(shell) for shell in shells) == pytest.approx([1.0, 8.0])


def test_the_skin_of_a_void_stays_with_the_solid_around_it():
    inner_vertices, inner_faces = box((1.0, 1.0, 1.0), (1.0, 1.0, 1.0))
    (shell,) = split_into_shells(*together(box((3.0, 3.0, 3.0)), (inner_vertices, inner_faces[:, ::-1])))
    assert shell.closed
    assert volume(shell) == pytest.approx(26.0)


def test_a_solid_inside_the_void_of_another_is_a_solid_of_its_own():
    shells = split_into_shells(
        *together(box((5.0, 5.0, 5.0)), box((3.0, 3.0, 3.0), (1.0, 1.0, 1.0)), box(at=(2.0, 2.0, 2.0)))
    )
    assert sorted(len(shell.vertices) for shell in shells) == [8, 16]


def test_a_box_beside_another_whose_bounding_box_holds_it_is_no_void():
    corner = [(0, 0), (4, 0), (4, 1), (1, 1), (1, 4), (0, 4)]
    vertices = np.array([(x, y, z) for z in (-1, 3) for x, y in corner], dtype=float)
    sides = [t for i in range(6) for t in ((i, (i + 1) % 6, 6 + (i + 1) % 6), (i, 6 + (i + 1) % 6, 6 + i))]
    caps = [(0, 1, 2), (0, 2, 3), (0, 3, 4), (0, 4, 5)]
    faces = np.array(sides + caps + [tuple(6 + i for i in t) for t in caps])
    assert len(split_into_shells(*together((vertices, faces), box(at=(2.0, 2.0, 0.5))))) == 2


def test_corners_a_nanometre_apart_are_welded():
    vertices, faces = box()
    loose = vertices[faces.ravel()] + np.random.default_rng(1).uniform(-1e-9, 1e-9, (36, 3))
    (shell,) = split_into_shells(loose, np.arange(36).reshape(-1, 3))
    assert shell.closed
    assert len(shell.vertices) == 8


def test_collapsed_and_repeated_triangles_are_dropped():
    vertices, faces = box()
    (shell,) = split_into_shells(vertices, np.concatenate([faces, [[0, 0, 1], faces[3]]]))
    assert shell.closed
    assert len(shell.faces) == 12


def test_a_missing_face_is_closed_flat_and_said_to_be():
    vertices, faces = box()
    (shell,) = split_into_shells(vertices, faces[2:])
    assert shell.closed
    assert shell.mended
    assert volume(shell) == pytest.approx(1.0)


def test_a_face_given_as_one_polygon_and_again_in_other_triangles_counts_once():
    vertices, faces = box()
    # The bottom once more, cut along the other diagonal.
    (shell,) = split_into_shells(vertices, np.concatenate([faces, [[0, 1, 3], [1, 2, 3]]]))
    assert shell.closed
    assert volume(shell) == pytest.approx(1.0)
    assert len(shell.faces) == 12


def test_a_region_covered_twice_around_a_missing_neighbour_counts_once():
    # Seen in a real model: a strip of a face is there as a polygon and as triangles, its rim is met three times.
    vertices, faces = box((4.0, 1.0, 1.0))
    vertices = np.concatenate([vertices, [(2.0, 0.0, 0.0)]])
    split_bottom = [(0, 3, 8), (8, 3, 2), (8, 2, 1)]
    split_front = [(0, 8, 4), (8, 5, 4), (8, 1, 5)]
    rest = [tuple(face) for face in faces if not {0, 1} <= set(face) and (vertices[face][:, 2].max() > 0)]
    rest = [face for face in rest if vertices[list(face)][:, 1].max() > 0]
    faces = np.array(rest + split_bottom + split_front + [(0, 1, 3), (1, 2, 3)])
    (shell,) = split_into_shells(vertices, faces)
    assert shell.closed
    assert volume(shell) == pytest.approx(4.0)


def test_an_edge_split_on_one_side_only_is_closed():
    vertices, faces = box()
    vertices = np.concatenate([vertices, [(0.5, 0.0, 0.0)]])
    bottom = [(0, 3, 8), (8, 3, 2), (8, 2, 1)]
    (shell,) = split_into_shells(vertices, np.concatenate([faces[2:], bottom]))
    assert shell.closed
    assert volume(shell) == pytest.approx(1.0)


def test_an_open_sheet_that_is_not_flat_is_given_as_it_is():
    vertices, faces = box()
    (shell,) = split_into_shells(vertices, faces[[0, 1, 4, 5, 6]])
    assert not shell.closed
    assert close_flat_gaps(vertices, faces[[0, 1, 4, 5, 6]], np.array([[0, 3], [3, 2], [2, 6], [6, 0]])) is None


def test_a_closed_solid_is_kept_beside_an_open_one():
    vertices, faces = together(box(), box(at=(3.0, 0.0, 0.0)))
    shells = split_into_shells(vertices, np.concatenate([faces[:4], faces[8:]]))
    assert [shell.closed for shell in shells] == [True, False]


def test_no_triangles_give_no_shell():
    assert split_into_shells(np.zeros((0, 3)), np.zeros((0, 3), dtype=int)) == ()


def test_coordinates_beyond_all_sense_are_welded_without_a_warning():
    corners = np.array([[1e30, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    vertices, faces = weld(corners, np.array([[0, 1, 2]]))
    assert np.array_equal(vertices, corners)
    assert faces.tolist() == [[0, 1, 2]]
