"""The walls of a model by type: what was understood of each, for the survey and the job file that it writes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from takeoff.building import Model, ModelLayer, ModelWall
from takeoff.job import Job, overrides_for
from takeoff.job_writer import WallTypeSummary
from takeoff.layer_roles import Judgement
from takeoff.model import LayerRole, Source, Status, StudLayer, WallTakeoff
from takeoff.result import Takeoff
from takeoff.units import format_length, written
from takeoff.wall_tables import stud_layers_of
from takeoff.walls.layer_places import LayerBook, judged_layers, layer_set_name

LONGEST_THICKNESS = 10
"""Characters; a longer number is no round one."""

Pair = tuple[ModelWall, WallTakeoff]
TypeKey = tuple[str, str, tuple[ModelLayer, ...]]
"""Type name, layer set name and layers: walls that share all three are understood alike."""


def wall_types(model: Model, takeoff: Takeoff) -> tuple[WallTypeSummary, ...]:
    """One summary for each wall type and layer set of the model, the largest area first."""
    results = {result.wall.wall_id: result for result in takeoff.results}
    groups: dict[TypeKey, list[Pair]] = {}
    for wall in model.walls:
        if wall.global_id in results:
            groups.setdefault(_key(wall), []).append((wall, results[wall.global_id]))
    rows = [_summary(key, pairs, takeoff.job) for key, pairs in groups.items()]
    return tuple(sorted(rows, key=lambda row: (-row.area, row.type_name, row.layer_set_name)))


def _key(wall: ModelWall) -> TypeKey:
    return wall.type_name, layer_set_name(wall), wall.layers.layers if wall.layers is not None else ()


def _summary(key: TypeKey, pairs: Sequence[Pair], job: Job) -> WallTypeSummary:
    type_name, layer_set_name, layers = key
    judged = _judged(layers, pairs, job)
    results = [result for _, result in pairs]
    return WallTypeSummary(
        type_name=type_name,
        layer_set_name=layer_set_name,
        layers=tuple(layer_line(layer, *judgement) for layer, judgement in zip(layers, judged, strict=True)),
        stud_layer=_stud_layer(layers, judged, results),
        reason=_reason(judged, results),
        framing=_framing(results),
        count=len(pairs),
        area=sum(result.wall.gross_area for result in results),
        insulated=_insulated(results),
        examples=tuple(result.wall.wall_id for result in results),
    )


def layer_line(layer: ModelLayer, role: LayerRole, reason: str) -> str:
    """One layer in words: material, thickness, role and why."""
    return f"{_layer_name(layer)}: {str(role).replace('_', ' ')} ({reason})"


def _layer_name(layer: ModelLayer) -> str:
    """Material and thickness, the latter in the unit in which it is a round number, else to the millimetre."""
    thickness = written(layer.thickness, "m", exact=False)
    if len(thickness) > LONGEST_THICKNESS:
        thickness = format_length(layer.thickness, "metric")
    return f"{layer.material or layer.name or '(no material)'}, {thickness}"


def _judged(layers: tuple[ModelLayer, ...], pairs: Sequence[Pair], job: Job) -> tuple[Judgement, ...]:
    """Roles in the model's order: as the takeoff took them where it did, else as the names say."""
    for _, result in pairs:
        for stud_layer in stud_layers_of(result):
            taken = _in_model_order(layers, stud_layer)
            if taken:
                return taken
    wall = pairs[0][0]
    rule = overrides_for(job, wall.global_id, wall.name, wall.type_name, layer_set_name(wall))
    rows = judged_layers(wall, rule, LayerBook(job), has_frame=any(wall.parts for wall, _ in pairs))
    return tuple((row.role, row.reason) for row in rows)


def _in_model_order(layers: tuple[ModelLayer, ...], stud_layer: StudLayer) -> tuple[Judgement, ...]:
    """The roles that a takeoff gave to these layers; empty where its layers are others."""
    rows = sorted(stud_layer.layers, key=lambda row: row.y_min)
    for ordered in (rows, rows[::-1]):
        if [(row.material, row.thickness) for row in ordered] == [
            (row.material or row.name, row.thickness) for row in layers
        ]:
            return tuple((row.role, row.reason) for row in ordered)
    return ()


def _stud_layer(layers: Sequence[ModelLayer], judged: Sequence[Judgement], results: Sequence[WallTakeoff]) -> str:
    """Which layer is the stud layer, with its number in the model and its depth; 'none' where there is none."""
    named = [
        f"{number}. {_layer_name(layer)}"
        for number, (layer, (role, _)) in enumerate(zip(layers, judged, strict=True), start=1)
        if role is LayerRole.STUD
    ]
    if named:
        return " and ".join(named)
    depths = sorted({format_length(layer.depth, "metric") for result in results for layer in stud_layers_of(result)})
    return f"the frame in the model, {' or '.join(depths)} deep" if depths else "none"


def _reason(judged: Sequence[Judgement], results: Sequence[WallTakeoff]) -> str:
    """Why that is the stud layer; why there is none where the walls were left out."""
    reasons = [reason for role, reason in judged if role is LayerRole.STUD]
    missing = _counted_texts(result.reason for result in results if result.status is not Status.TAKEN_OFF)
    return "; ".join([*reasons, *([missing] if missing else [])])


def _framing(results: Sequence[WallTakeoff]) -> str:
    """Whether frames are modelled or laid out, and by which rules."""
    return _counted_texts(_frame_words(result) for result in results)


def _frame_words(result: WallTakeoff) -> str:
    if not result.layers:
        return "failed" if result.status is Status.FAILED else "not framed"
    return " and ".join(
        dict.fromkeys(
            "in the model" if layer.frame.source is Source.MODELLED else f"laid out by {layer.frame.rule}"
            for layer in result.layers
        )
    )


def _insulated(results: Sequence[WallTakeoff]) -> str:
    """Whether the framed walls are filled, and why; empty where none is framed."""
    return _counted_texts(
        f"{'yes' if result.wall.insulated else 'no'}: {result.wall.insulated_reason}"
        for result in results
        if result.layers
    )


def _counted_texts(texts: Iterable[str]) -> str:
    """Texts once each, the most frequent first, with their number where there are several."""
    counts = Counter(texts).most_common()
    if len(counts) == 1:
        return counts[0][0]
    return "; ".join(f"{text} ({count})" for text, count in counts)
