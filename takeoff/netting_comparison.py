"""Netting of a job: its layout from the rolls of the price book, and what it is held against."""

from __future__ import annotations

from dataclasses import dataclass
from math import fsum

import shapely

from takeoff.job import Job
from takeoff.netting_layout import NettingLayout, lay_netting, plain_layout
from takeoff.netting_strips import Cover, Face, Roll
from takeoff.plurals import plural
from takeoff.price_book import Materials, Package
from takeoff.schedule_basis import Basis, parted


@dataclass(frozen=True, slots=True, eq=False)
class Netting:
    """The layout of a job with the products of its rolls, the plain method and the rule of thumb."""

    layout: NettingLayout
    products: tuple[Package, ...]
    plain: NettingLayout | None
    """The plain method with the same rolls; None where no kind of roll covers every wall."""
    allowance: float
    """m2 by the rule of thumb: area of the walls, openings not deducted, and the waste of the job file. It knows no
    widths of rolls and can fall short of what they need."""
    waste: float
    """That waste as a part of the area."""


def netting_of(basis: Basis, job: Job, materials: Materials) -> Netting:
    """The netting of all stud layers that are netted."""
    layers = [layer for layer in basis.layers if layer.netted]
    faces = [Face(layer.layer_key, shapely.from_wkt(layer.outline_wkt), parted(layer.stud_places)) for layer in layers]
    rolls = [Roll(each.name, each.width, each.length) for each in materials.netting]
    cover, waste = Cover(job.netting.lap, job.netting.edge), job.netting.plain_waste
    allowance = (1.0 + waste) * fsum(layer.face_area for layer in layers)
    layout, plain = lay_netting(faces, rolls, cover), plain_layout(faces, rolls, cover)
    return Netting(layout, materials.netting, plain, allowance, waste)


def netting_notes(netting: Netting) -> list[str]:
    """What the layout cannot do, in words for the estimator."""
    layout = netting.layout
    if layout.rolls and layout.failed:
        return [
            f"No roll of the price book covers {plural(len(layout.failed), 'stud layer')}; add a wider or longer one."
        ]
    if layout.strips and layout.used_area > netting.allowance + 1e-6:
        return [
            f"The netting takes {layout.used_area:.1f} m2 in pieces, more than the {netting.allowance:.1f} m2 of area "
            f"and {100.0 * netting.waste:.0f} %, which would run short with these rolls: other widths would fit "
            "the walls better."
        ]
    return []
