"""Bodies of elements as closed meshes in world metres."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometry.solids import Mesh
from takeoff.reading.faults import BROKEN_ENTITY, ElementFault
from takeoff.reading.kernel import Kernel
from takeoff.reading.placements import Matrix, Placements
from takeoff.reading.representations import body_representations, is_mirrored, items_of
from takeoff.reading.shells import Shell

FARTHEST = 1e8
"""m from the zero of the model; the coordinates of maps stay below 1e7 m, so what lies beyond is a slip of the file."""
ROUGH_MARGIN = 0.1
"""Share of its size by which a rough box is widened on each side: a quick kernel may cut a circle down to a polygon."""


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """The body of one element.

    solids: world axes, m, one closed shell each (open ones, which no kernel could close, come too).
    fault: why it is missing or incomplete, one clause, else empty. n_open: how many of the solids do not close.
    n_mended: how many were closed by mending a flat gap or a face given twice.
    """

    solids: tuple[Mesh, ...]
    fault: str = ""
    n_open: int = 0
    n_mended: int = 0


NO_BODY = Body((), "it has no body; export it with its 3D shape")


class Bodies:
    """The bodies of one file; each element is tessellated once, each mapped shape once for all who use it.

    Openings are not subtracted. Coordinates are the model's own: they are computed near the zero of each shape and
    placed in float64, so they are good to about 1e-10 m at 500 km from the origin.
    """

    def __init__(self, placements: Placements, length: float, to_world: Matrix | None = None) -> None:
        """length: the file's unit in m. to_world: (4, 4) applied last, for a model that stands on another origin."""
        self._placements = placements
        self._length = length
        self._to_world = to_world
        self._kernel = Kernel()
        self._shared: dict[int, tuple[Shell, ...]] = {}
        self._known: dict[int, Body] = {}
        self._rough: dict[int, NDArray[np.float64] | None] = {}

    def of(self, element: Any) -> Body:
        """The body of an element; never raises on a flaw of the model, the Body says what is wrong."""
        known = self._known.get(element.id())
        if known is None:
            try:
                known = self._read(element)
            except (ElementFault, *BROKEN_ENTITY) as error:
                known = Body((), _clause(error))
            self._known[element.id()] = known
        return known

    def forget(self, element: Any) -> None:
        """Let go of a body that will not be asked for again."""
        self._known.pop(element.id(), None)
        self._rough.pop(element.id(), None)

    def rough_box(self, element: Any) -> NDArray[np.float64] | None:
        """(n, 3) float64, m, world: points whose box surely holds the element's body; None where it has none.

        Far cheaper than the body itself, above all for curved shapes. Of a shape with one item they are its own box,
        widened alike on all sides.
        """
        number = element.id()
        if number not in self._rough:
            try:
                found = self._rough_points(element)
            except (ElementFault, *BROKEN_ENTITY):
                found = None
            if found is None:
                solids = self.of(element).solids
                found = np.concatenate([solid.vertices for solid in solids]) if solids else None
            self._rough[number] = found
        return self._rough[number]

    def _rough_points(self, element: Any) -> NDArray[np.float64] | None:
        representations = body_representations(element)
        if not representations:
            return None
        items = items_of(representations[0], self._length)
        place = self._world(element)
        corners = []
        for item, matrix, _ in items:
            points = self._kernel.rough_points(item)
            if points is None:
                return None
            corners.append(_placed(_box(points), place if matrix is None else place @ matrix))
        return np.concatenate(corners) if corners else None

    def _world(self, element: Any) -> Matrix:
        place = self._placements.of(element)
        return place if self._to_world is None else self._to_world @ place

    def _read(self, element: Any) -> Body:
        representations = body_representations(element)
        if not representations:
            return NO_BODY
        place = self._world(element)
        body = NO_BODY
        for representation in representations:
            body = self._read_representation(representation, place)
            if body.solids:
                return body
        return body

    def _read_representation(self, representation: Any, place: Matrix) -> Body:
        solids: list[Mesh] = []
        faults: list[str] = []
        n_open = n_mended = 0
        for item, matrix, mapped in items_of(representation, self._length):
            try:
                shells = self._shells(item, mapped)
            except (ElementFault, *BROKEN_ENTITY) as error:
                faults.append(_clause(error))
                continue
            whole = place if matrix is None else place @ matrix
            for shell in shells:
                mesh = _mesh(shell, whole)
                if not (np.abs(mesh.vertices) <= FARTHEST).all():
                    faults.append(f"its shape #{item.id()} reaches farther than {FARTHEST:g} m; mend its coordinates")
                    continue
                solids.append(mesh)
                n_open += not shell.closed
                n_mended += shell.mended
        if not solids and not faults:
            faults.append(f"its body #{representation.id()} has no faces; export it with its 3D shape")
        return Body(tuple(solids), faults[0] if faults else "", n_open, n_mended)

    def _shells(self, item: Any, mapped: bool) -> tuple[Shell, ...]:
        if not mapped:
            return self._kernel.shells(item)
        known = self._shared.get(item.id())
        if known is None:
            known = self._kernel.shells(item)
            self._shared[item.id()] = known
        return known


def _clause(error: Exception) -> str:
    if isinstance(error, ElementFault):
        return str(error)
    first = str(error).strip().splitlines()
    return f"its data are broken ({first[0] if first else type(error).__name__}); export the model again"


def _placed(points: NDArray[np.float64], matrix: Matrix) -> NDArray[np.float64]:
    return points @ matrix[:3, :3].T + matrix[:3, 3]


def _mesh(shell: Shell, matrix: Matrix) -> Mesh:
    faces = shell.faces[:, ::-1] if is_mirrored(matrix) else shell.faces
    return Mesh(_placed(shell.vertices, matrix), faces)


def _box(points: NDArray[np.float64]) -> NDArray[np.float64]:
    low, high = points.min(axis=0), points.max(axis=0)
    margin = float((high - low).max()) * ROUGH_MARGIN
    ends = np.stack([low - margin, high + margin])
    return np.array([[ends[i, 0], ends[j, 1], ends[k, 2]] for i in (0, 1) for j in (0, 1) for k in (0, 1)])
