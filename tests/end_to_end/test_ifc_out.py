"""The model with its takeoff written back: valid, read again by our own reader, with the same cavities.

Held against ifcopenshell.validate, a general-purpose check of the IFC schemas, and the library's own geometry kernel.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.geom
import ifcopenshell.util.element
import ifcopenshell.util.shape
import ifcopenshell.util.unit
import ifcopenshell.validate
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from geometry.frames import LocalAxes
from geometry.solids import polygons_of, silhouette
from reports.files import OutputError
from reports.ifc_out import WALL_QUANTITIES, WALL_SET, write_ifc
from reports.ifc_out_elements import CAVITY_QUANTITIES, CAVITY_SET, MEMBER_QUANTITIES
from takeoff import Takeoff, take_off
from takeoff.framing.rules import PRESETS
from takeoff.model import Cavity, CavityKind, Source, WallTakeoff
from tests.elevation_builder import ElevationModel, Setting
from tests.end_to_end.test_round_trip import DEPTHS, SHAPES
from tests.ifc_builder import Builder
from tests.odd_wall_builder import LINED, bent_wall, curved_wall

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = sorted((ROOT / "sample_models").glob("*.ifc"))
SHARED = ROOT.parent / "shared" / "models"
CHORDS = 1e-3
"""Relative; what chords instead of arcs may take of the volume of a body in a curved wall."""
WRITTEN = {"24in": ("IFC2X3", "FOOT"), "16in": ("IFC4X3", "INCH")}
"""Schema and unit by a word of the preset, so that all of both are met."""
PLACE = 1e-5
"""m; how far a cavity found again may lie beside its first place: coordinates are written to 1e-9 file units, and
frames that are read are bundled and closed within 1e-6 m."""
FILM = 5e-8
"""m3 (0.05 ml); films of a ten-thousandth of a millimetre between members are closed, and these lie where coordinates
are rounded: one pocket in the hollows of steel studs differs by 0.01 ml."""
NOT_CAVITIES = (CavityKind.SLIVER, CavityKind.OPENING_GAP)


def faults(path: Path) -> Counter[str]:
    """What ifcopenshell.validate says of a file, without the names that differ between copies."""
    log: Any = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(str(path), log)
    return Counter(f"{row.get('attribute')}: {str(row['message']).split('FILE_NAME')[0]}" for row in log.statements)


def cavities(result: Takeoff) -> dict[str, list[tuple[float, str]]]:
    """Volumes and kinds of each wall's cavities."""
    return {
        row.wall.wall_id: sorted((cavity.volume, str(cavity.kind)) for _, cavity in standing(row))
        for row in result.results
    }


def standing(row: WallTakeoff) -> list[tuple[LocalAxes, Cavity]]:
    """The cavities of a wall with the axes that they lie in."""
    return [
        (layer.frame.layer.axes, cavity)
        for layer in row.layers
        for cavity in layer.cavities
        if cavity.kind not in NOT_CAVITIES
    ]


def assert_same_cavities(first: Takeoff, again: Takeoff) -> None:
    """Wall by wall the same number of cavities, of the same kinds, volumes, depths and outlines, in the same places."""
    assert [row.wall.wall_id for row in first.results] == [row.wall.wall_id for row in again.results]
    for one, two in zip(first.results, again.results, strict=True):
        told = one.wall.wall_id
        left = standing(two)
        assert len(left) == len(standing(one)), told
        for axes, cavity in standing(one):
            same = [number for number, found in enumerate(left) if is_same(axes, cavity, *found)]
            assert len(same) == 1, f"{told}: {cavity.cavity_id} {cavity.kind} is found {len(same)} times"
            left.pop(same[0])


def is_same(axes: LocalAxes, cavity: Cavity, other_axes: LocalAxes, other: Cavity) -> bool:
    """Whether two cavities are one: the outlines are held against each other in the axes of the first."""
    if other.kind != cavity.kind or other.volume != pytest.approx(cavity.volume, rel=1e-6, abs=FILM):
        return False

    def seen(points: NDArray[np.float64]) -> NDArray[np.float64]:
        world = other_axes.to_world(np.insert(points, 1, other.y_min, axis=1))
        return axes.to_local(world)[:, [0, 2]]

    centre = np.array([[*other.outline.centroid.coords[0]]])
    depths = [
        axes.to_local(other_axes.to_world(np.insert(centre, 1, depth, axis=1)))[0, 1]
        for depth in (other.y_min, other.y_max)
    ]
    outline = shapely.transform(other.outline, seen)
    off = float(shapely.symmetric_difference(outline.buffer(0), cavity.outline).area)
    return (
        sorted(depths) == pytest.approx([cavity.y_min, cavity.y_max], abs=PLACE)
        and off <= PLACE * cavity.outline.length
    )


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_a_sample_written_back_is_valid_and_has_the_same_cavities(path: Path, tmp_path: Path) -> None:
    before = path.read_bytes()
    result = take_off(path)
    added = write_ifc(path, result, tmp_path / "again.ifc")
    assert path.read_bytes() == before
    assert faults(tmp_path / "again.ifc") == faults(path)
    listed = sum(len(found) for found in cavities(result).values())
    assert added.get("IfcBuildingElementPart", 0) + added.get("IfcVirtualElement", 0) == listed
    assert_same_cavities(result, take_off(tmp_path / "again.ifc"))


@pytest.mark.parametrize("shape", ["door and window", "gable"])
@pytest.mark.parametrize("preset", sorted(PRESETS))
def test_every_framing_preset_survives_the_file(preset: str, shape: str, tmp_path: Path) -> None:
    schema, unit = next((written for word, written in WRITTEN.items() if word in preset), ("IFC4", "MILLIMETRE"))
    wall = SHAPES[shape]
    setting = Setting(unit, (12.0, -5.0, 3.1), 27.0, schema)
    model = ElevationModel(Polygon(wall.outline), DEPTHS.get(preset, 0.14), setting)
    for opening in wall.openings:
        model.opening(*opening)
    path = model.made.save(tmp_path / "wall.ifc")
    job = tmp_path / "job.toml"
    # Two rows of studs make one wide cavity, whose holes take long to plan: those walls stay empty.
    filled = "false" if preset.endswith("-stud") else "true"
    rule = f'[[wall]]\nname = "Wall"\nstud_layer = 1\ninsulate = {filled}\nframing = "{preset}"\n'
    job.write_text(rule, encoding="utf-8")
    laid = take_off(path, job)
    write_ifc(path, laid, tmp_path / "again.ifc")
    assert not faults(tmp_path / "again.ifc") - faults(path)
    read = take_off(tmp_path / "again.ifc", job)
    assert [layer.frame.source for row in read.results for layer in row.layers] == [Source.MODELLED]
    assert_same_cavities(laid, read)


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Takeoff, Any]:
    """The sample house with laid-out frames: its path, its takeoff, and the copy as ifcopenshell opens it."""
    path = ROOT / "sample_models" / "two_storey_house.ifc"
    result = take_off(path)
    copy = tmp_path_factory.mktemp("copy") / "again.ifc"
    write_ifc(path, result, copy)
    return copy, result, ifcopenshell.open(str(copy))


def sets_of(element: Any) -> dict[str, dict[str, Any]]:
    return ifcopenshell.util.element.get_psets(element)


def test_each_cavity_bears_its_quantities_and_is_a_part_of_its_wall(house: tuple[Path, Takeoff, Any]) -> None:
    _, result, file = house
    scale = ifcopenshell.util.unit.calculate_unit_scale(file)
    parts = {sets_of(part)[CAVITY_SET]["CavityId"]: part for part in file.by_type("IfcBuildingElementPart")}
    parts |= {sets_of(part)[CAVITY_SET]["CavityId"]: part for part in file.by_type("IfcVirtualElement")}
    holes = Counter(hole.cavity_id for hole in result.fill.holes)
    seen = 0
    for row in result.results:
        for layer in row.layers:
            for cavity in layer.cavities:
                if cavity.kind in NOT_CAVITIES:
                    continue
                part, seen = parts[cavity.cavity_id], seen + 1
                found = sets_of(part)
                assert ifcopenshell.util.element.get_aggregate(part).GlobalId == row.wall.wall_id
                assert found[CAVITY_SET]["Method"] == cavity.method
                assert found[CAVITY_SET]["Kind"] == cavity.kind
                assert found[CAVITY_SET]["Holes"] == holes[cavity.cavity_id]
                assert len(found[CAVITY_SET].get("HolePositions", ())) == holes[cavity.cavity_id]
                # Areas and volumes of this file are in m2 and m3, its lengths in mm.
                assert found[CAVITY_QUANTITIES]["Volume"] == pytest.approx(cavity.volume, rel=1e-9)
                assert found[CAVITY_QUANTITIES]["ElevationArea"] == pytest.approx(cavity.area, rel=1e-9)
                assert found[CAVITY_QUANTITIES]["ClearWidth"] * scale == pytest.approx(cavity.clear_width, rel=1e-9)
    assert seen == len(parts)


def test_filled_cavities_are_insulation_and_empty_ones_are_virtual(house: tuple[Path, Takeoff, Any]) -> None:
    file = house[2]
    filled, empty = file.by_type("IfcBuildingElementPart"), file.by_type("IfcVirtualElement")
    assert filled
    assert empty
    for part in filled:
        assert part.PredefinedType == "INSULATION"
        assert "insulation" in ifcopenshell.util.element.get_material(part).Name.lower()
        assert sets_of(part)[CAVITY_SET]["Method"] in ("blow", "batt", "before_sheathing")
    assert {sets_of(part)[CAVITY_SET]["Method"] for part in empty} <= {"none", "seal"}


def test_members_are_typed_by_role_and_section(house: tuple[Path, Takeoff, Any]) -> None:
    file = house[2]
    kinds = Counter(ifcopenshell.util.element.get_predefined_type(member) for member in file.by_type("IfcMember"))
    assert {"STUD", "PLATE"} <= kinds.keys()
    for member in file.by_type("IfcMember"):
        kind = ifcopenshell.util.element.get_type(member)
        assert kind.is_a("IfcMemberType")
        assert kind.Name.startswith(member.Name)
        assert sets_of(member)[MEMBER_QUANTITIES]["Volume"] > 0.0


def test_walls_bear_the_columns_of_walls_csv(house: tuple[Path, Takeoff, Any]) -> None:
    _, result, file = house
    table = result.walls.set_index("wall_id")
    for row in result.results:
        found = sets_of(file.by_guid(row.wall.wall_id))
        assert found[WALL_SET]["Status"] == row.status
        assert found[WALL_QUANTITIES]["GrossArea"] == pytest.approx(table.loc[row.wall.wall_id, "gross_area_m2"])
        assert found[WALL_QUANTITIES]["FillVolume"] == pytest.approx(table.loc[row.wall.wall_id, "fill_volume_m3"])
        assert not any(name.startswith(("Pset_", "Qto_")) for name in found if "Bayfill" in name)


def test_nothing_that_the_model_had_is_gone(house: tuple[Path, Takeoff, Any]) -> None:
    before, after = ifcopenshell.open(str(ROOT / "sample_models" / "two_storey_house.ifc")), house[2]
    for entity in before:
        assert str(after.by_id(entity.id())) == str(entity)


def test_the_same_model_gives_the_same_bytes(house: tuple[Path, Takeoff, Any], tmp_path: Path) -> None:
    copy, result, _ = house
    write_ifc(ROOT / "sample_models" / "two_storey_house.ifc", result, tmp_path / copy.name)
    assert (tmp_path / copy.name).read_bytes() == copy.read_bytes()


def test_writing_back_twice_leaves_each_cavity_once(house: tuple[Path, Takeoff, Any], tmp_path: Path) -> None:
    copy, result, file = house
    again = take_off(copy)
    added = write_ifc(copy, again, tmp_path / "twice.ifc")
    assert "IfcMember" not in added
    twice = ifcopenshell.open(str(tmp_path / "twice.ifc"))
    for name in ("IfcMember", "IfcBuildingElementPart", "IfcVirtualElement"):
        assert len(twice.by_type(name)) == len(file.by_type(name)), name
    assert not faults(tmp_path / "twice.ifc")
    assert_same_cavities(result, take_off(tmp_path / "twice.ifc"))


def test_the_model_itself_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "model.ifc"
    path.write_bytes(SAMPLES[0].read_bytes())
    with pytest.raises(OutputError, match="never written over"):
        write_ifc(path, take_off(path), path)
    assert path.read_bytes() == SAMPLES[0].read_bytes()


@pytest.mark.parametrize("towards_centre", [True, False])
def test_a_curved_wall_with_a_window_survives_the_file(towards_centre: bool, tmp_path: Path) -> None:
    model = Builder("IFC4", "FOOT")
    place = {"at": (7.0, -2.0, 1.0), "angle": 30.0, "towards_centre": towards_centre}
    wall = curved_wall(model, radius=4.0, sweep=1.2, height=2.5, layers=LINED, **place)
    model.opening(wall, x=1.6, z=0.9, width=0.9, height=1.0, filling="IfcWindow")
    path = model.save(tmp_path / "curved.ifc")
    laid = take_off(path)
    assert [layer.frame.source for row in laid.results for layer in row.layers] == [Source.LAID_OUT]
    write_ifc(path, laid, tmp_path / "again.ifc")
    assert not faults(tmp_path / "again.ifc") - faults(path)
    read = take_off(tmp_path / "again.ifc")
    assert [layer.frame.source for row in read.results for layer in row.layers] == [Source.MODELLED]
    one, two = ([volume for found in cavities(each).values() for volume, _ in found] for each in (laid, read))
    # Bodies are written with corners on their arcs; beside the window, whose jambs are straight, chords stay.
    assert two == pytest.approx(one, rel=2e-3)
    assert drawn_differently(tmp_path / "again.ifc", 1) == {}


@pytest.mark.parametrize("line", [((0, 0), (5, 0), (5, 3)), ((0, 0), (4, 0), (4, 3), (0, 3))])
def test_a_wall_bent_in_plan_survives_the_file(line: tuple[tuple[float, float], ...], tmp_path: Path) -> None:
    model = Builder("IFC2X3", "INCH")
    bent_wall(model, line, height=2.6)
    path = model.save(tmp_path / "bent.ifc")
    laid = take_off(path)
    assert [layer.frame.source for row in laid.results for layer in row.layers] == [Source.LAID_OUT] * (len(line) - 1)
    write_ifc(path, laid, tmp_path / "again.ifc")
    assert not faults(tmp_path / "again.ifc") - faults(path)
    read = take_off(tmp_path / "again.ifc")
    assert {layer.frame.source for row in read.results for layer in row.layers} == {Source.MODELLED}
    assert_same_cavities(laid, read)


def drawn_differently(path: Path, step: int) -> dict[str, tuple[float, float]]:
    """Volumes of bodies as the geometry kernel of ifcopenshell draws them and as their quantity says, m3, where the two
    differ; every `step`th element of ours, those left out that say that they are not drawn exactly."""
    file = ifcopenshell.open(str(path))
    settings = ifcopenshell.geom.settings()
    # The kernel cuts a wall's openings out of its parts too; a straight window in a curved wall grazes its jack studs.
    settings.set("disable-opening-subtractions", True)
    scale = ifcopenshell.util.unit.calculate_unit_scale(file, "VOLUMEUNIT")
    found: dict[str, tuple[float, float]] = {}
    elements = [
        one for kind in ("IfcMember", "IfcBuildingElementPart", "IfcVirtualElement") for one in file.by_type(kind)
    ]
    checked = 0
    for element in elements[::step]:
        sets = sets_of(element)
        if CAVITY_SET not in sets and MEMBER_QUANTITIES not in sets:
            continue
        if sets.get(CAVITY_SET, {}).get("BodyIs", "exact") != "exact":
            continue
        checked += 1
        shape: Any = ifcopenshell.geom.create_shape(settings, element)
        drawn = ifcopenshell.util.shape.get_volume(shape.geometry)
        said = sets[CAVITY_QUANTITIES if CAVITY_SET in sets else MEMBER_QUANTITIES]["Volume"] * scale
        if drawn != pytest.approx(said, rel=CHORDS):
            found[element.Tag] = drawn, said
    assert checked
    return found


@pytest.mark.parametrize("path", SAMPLES, ids=lambda path: path.stem)
def test_another_kernel_draws_the_bodies_with_the_volumes_that_they_bear(path: Path, tmp_path: Path) -> None:
    write_ifc(path, take_off(path), tmp_path / "again.ifc")
    assert drawn_differently(tmp_path / "again.ifc", 7) == {}


@pytest.mark.skipif(not SHARED.is_dir(), reason="the shared models are not on this machine")
@pytest.mark.parametrize("path", sorted(SHARED.glob("*.ifc")), ids=lambda path: path.stem)
def test_models_of_other_people_survive_too(path: Path, tmp_path: Path) -> None:
    result = take_off(path)
    write_ifc(path, result, tmp_path / "again.ifc")
    assert not faults(tmp_path / "again.ifc") - faults(path)
    assert_same_cavities(result, take_off(tmp_path / "again.ifc"))


# ---------------------------------------------------------------- walls drawn into each other

SHEATHED = (("Gypsum board", 0.0125), ("Wood studs", 0.14), ("OSB sheathing", 0.012))
DEEP = (("Gypsum board", 0.0125), ("Wood studs", 0.184), ("OSB sheathing", 0.012))


def drawn(model: Builder, name: str, layers: Sequence[tuple[str, float]] = SHEATHED, **changes: Any) -> Any:
    thickness = sum(depth for _, depth in layers)
    return model.wall(name, **{"length": 4.0, "height": 2.4, "thickness": thickness, "layers": layers, **changes})


def ends_over_the_other(model: Builder) -> None:
    drawn(model, "A")
    drawn(model, "B", length=3.0, at=(3.3, 0.0, 0.0))


def stands_in_deeper_studs(model: Builder) -> None:
    drawn(model, "A", length=6.0)
    drawn(model, "B", DEEP, length=2.0, at=(1.5, -0.01, 0.0), height=2.7)


def given_twice(model: Builder) -> None:
    drawn(model, "A")
    drawn(model, "A again")


def seen_from_behind(model: Builder) -> None:
    drawn(model, "A")
    drawn(model, "B", at=(6.0, 0.1645, 0.0), angle=180.0)


def reaches_up_into_the_next_storey(model: Builder) -> None:
    drawn(model, "A", height=2.7)
    drawn(model, "B", at=(1.0, 0.0, 2.4))


def too_near_beside(model: Builder) -> None:
    drawn(model, "A")
    drawn(model, "B", length=3.0, at=(3.5, 0.26, 0.0), angle=180.0)


def ends_within_a_furred_wall(model: Builder) -> None:
    furred = (("Gypsum board", 0.0125), ("Wood studs", 0.09), ("Concrete masonry", 0.2))
    drawn(model, "A", furred)
    drawn(model, "B", length=3.0, at=(2.0, 0.25, 0.0), angle=270.0)


def three_in_one_place(model: Builder) -> None:
    drawn(model, "A", length=3.0)
    drawn(model, "B", length=5.0, at=(1.0, 0.0, 0.0))
    drawn(model, "C", length=2.5, at=(0.5, 0.0, 0.0))


def crosses(model: Builder) -> None:
    drawn(model, "A")
    drawn(model, "B", length=3.0, at=(2.0, -1.5, 0.0), angle=90.0)


@pytest.mark.parametrize(
    ("draw", "length"),
    [
        # m of studs in plan, of both walls together, counted by hand
        (ends_over_the_other, 3.3 + 3.0),
        (stands_in_deeper_studs, 4.0 + 2.0),
        (given_twice, 4.0),
        (seen_from_behind, 6.0),
        (too_near_beside, 4.0 + 3.0),
        # B ends at the fill face of A's studs, 0.0125 m before its lining begins: 3.0 - (0.25 - 0.0125)
        (ends_within_a_furred_wall, 4.0 + 3.0 - (0.25 - 0.0125)),
        # from 0.5 to 1.0 all three stand, and A, longer than C, keeps it; from 1.0 on B does
        (three_in_one_place, 1.0 + 5.0),
        (crosses, 4.0 + 3.0 - 0.14),
    ],
)  # fmt: skip
def test_walls_drawn_into_each_other_are_counted_once_and_survive(
    draw: Callable[[Builder], None], length: float, tmp_path: Path
) -> None:
    model = Builder()
    draw(model)
    path = model.save(tmp_path / "model.ifc")
    result = take_off(path)
    outlines = [layer.frame.layer.outline for row in result.results for layer in row.layers]
    found = sum(piece.bounds[2] - piece.bounds[0] for body in outlines for piece in polygons_of(silhouette(body)))
    assert found == pytest.approx(length, abs=1e-6)
    write_ifc(path, result, tmp_path / "again.ifc")
    assert not faults(tmp_path / "again.ifc")
    assert_same_cavities(result, take_off(tmp_path / "again.ifc"))


def test_a_wall_that_reaches_up_into_the_next_one_ends_at_it_and_survives(tmp_path: Path) -> None:
    model = Builder()
    reaches_up_into_the_next_storey(model)
    path = model.save(tmp_path / "model.ifc")
    result = take_off(path)
    areas = {row.wall.name: sum(layer.gross_area for layer in row.layers) for row in result.results}
    # Both are 4 m long; B comes later in the model and begins where A ends, over the 3 m that they share.
    assert areas == pytest.approx({"A": 4.0 * 2.7, "B": 4.0 * 2.4 - 3.0 * 0.3})
    write_ifc(path, result, tmp_path / "again.ifc")
    assert_same_cavities(result, take_off(tmp_path / "again.ifc"))


def test_the_frame_of_a_wall_lower_than_most_cripples_survives(tmp_path: Path) -> None:
    """A stem wall under a stair: studs of 0.17 m between its plates are its frame all the same."""
    model = Builder()
    drawn(model, "Low", height=0.288, length=1.5)
    path = model.save(tmp_path / "model.ifc")
    result = take_off(path)
    write_ifc(path, result, tmp_path / "again.ifc")
    again = take_off(tmp_path / "again.ifc")
    assert [layer.frame.source for row in again.results for layer in row.layers] == [Source.MODELLED]
    assert_same_cavities(result, again)
