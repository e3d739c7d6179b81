"""Booleans of closed meshes: the independent check of voids, and the part of odd bodies within a block.

Slow and of another kind than the depth slabs, so that agreement means something. trimesh closes and orients the meshes;
its boolean call hands vertices on in single precision (7 digits), so the engine behind it is called in double. Both are
imported late: the ordinary road through the program never needs them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from geometry.solids import Mesh, Prism, Solid, as_mesh


def boolean_voids(region: Solid, taken: Sequence[Solid], depth: tuple[float, float]) -> tuple[float, ...]:
    """Volumes in m3, largest first, of the connected parts of `region - union(taken)` between two depths.

    Every solid must be a prism or a closed mesh. Raises ValueError where one is not closed.
    """
    import manifold3d

    block = _manifold(region)
    low_x, low_y, low_z, high_x, high_y, high_z = block.bounding_box()
    margin = 1.0 + max(high_x - low_x, high_y - low_y, high_z - low_z)
    elevation = shapely.box(low_x - margin, low_z - margin, high_x + margin, high_z + margin)
    block = block ^ _manifold(Prism(elevation, *depth))
    if taken:
        pieces = [_manifold(solid) for solid in taken]
        block = block - manifold3d.Manifold.batch_boolean(pieces, manifold3d.OpType.Add)
    return tuple(sorted(_connected(block.decompose()), reverse=True))


def _connected(shells: Sequence[Any]) -> list[float]:
    """Volumes of bodies given as shells: the inner side of a hollow comes as a shell of its own, of negative volume,
    and belongs to the smallest body around it."""
    import manifold3d

    bodies = sorted((shell for shell in shells if shell.volume() > 0.0), key=lambda shell: shell.volume())
    volumes = [float(body.volume()) for body in bodies]
    boxes = np.array([body.bounding_box() for body in bodies]).reshape(-1, 6)
    for hollow in (shell for shell in shells if shell.volume() < 0.0):
        box, mesh = np.array(hollow.bounding_box()), hollow.to_mesh64()
        around = (boxes[:, :3] <= box[:3]).all(axis=1) & (boxes[:, 3:] >= box[3:]).all(axis=1)
        corners = np.array(mesh.vert_properties, dtype=np.float64, order="C")
        turned = np.array(np.asarray(mesh.tri_verts)[:, ::-1], dtype=np.uint64, order="C")
        content = manifold3d.Manifold(manifold3d.Mesh64(vert_properties=corners, tri_verts=turned))
        for number in np.flatnonzero(around).tolist():
            if (bodies[number] ^ content).volume() > -0.5 * hollow.volume():
                volumes[number] += float(hollow.volume())
                break
    return volumes


def common_part(solids: Sequence[Solid], block: Solid, less: Sequence[Solid] = ()) -> tuple[Mesh, ...]:
    """What overlapping or touching solids together have within a block: its connected pieces, largest first.

    less: what is taken from it. Every solid must be a prism or a closed mesh. Raises ValueError where one is not
    closed.
    """
    import manifold3d

    # Worked on near zero: world coordinates may be large.
    zero = as_mesh(block).vertices.mean(axis=0)
    near = [_manifold(Mesh(mesh.vertices - zero, mesh.faces)) for mesh in map(as_mesh, (*solids, *less, block))]
    whole = manifold3d.Manifold.batch_boolean(near[: len(solids)], manifold3d.OpType.Add) ^ near[-1]
    if less:
        whole = whole - manifold3d.Manifold.batch_boolean(near[len(solids) : -1], manifold3d.OpType.Add)
    pieces = sorted(whole.decompose(), key=lambda piece: -piece.volume())
    made: list[Mesh] = []
    for piece in pieces:
        mesh = piece.to_mesh64()
        vertices = np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3] + zero
        made.append(Mesh(vertices, np.asarray(mesh.tri_verts, dtype=np.int64)))
    return tuple(made)


def _manifold(solid: Solid) -> Any:
    """The engine's own solid; it wants triangles that point outwards."""
    import manifold3d
    import trimesh

    mesh = as_mesh(solid)
    shape = trimesh.Trimesh(mesh.vertices, mesh.faces, process=True)
    if shape.volume < 0.0:
        shape.invert()
    made = manifold3d.Manifold(
        manifold3d.Mesh64(vert_properties=shape.vertices, tri_verts=shape.faces.astype("uint64"))
    )
    if made.status() != manifold3d.Error.NoError:
        raise ValueError(f"a solid is not a closed mesh: {made.status()}")
    return made
