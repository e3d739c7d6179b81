"""The import rule of the house: reports -> takeoff -> geometry, never back, no cycle, nothing of our own hidden inside
a function but what is listed here, IFC only where models are read and written."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FLOORS = ("geometry", "takeoff", "reports")
"""From the ground up: a module may import its own floor and those below."""
GEOMETRY_MAY_IMPORT = {"numpy", "shapely", "trimesh", "manifold3d"}
"""manifold3d is the boolean engine behind trimesh."""
IFC_PACKAGES = {"ifcopenshell", "bcf", "ifctester"}
IFC_WRITERS = ("reports/ifc_out", "reports/bcf_", "reports/ids_")
"""How the files of the writers of open standards begin."""
SLOW_PACKAGES = {"pandas", "trimesh", "scipy", "networkx", "pint"}
"""They cost 0.3 s and more: imported where they are used, never at the top of a module."""
LATE = {
    ("reports/files.py", "reports.page_file"),
    ("takeoff/job_thermal.py", "takeoff.thermal.fibre"),
    ("takeoff/job_thermal.py", "takeoff.thermal.targets"),
    ("takeoff/result.py", "takeoff.labour_days"),
    ("takeoff/result.py", "takeoff.schedule_tables"),
}
"""Doors to what a plain takeoff needs nothing of (the page, heat, price and labour) and would load for a tenth of a
second: the only modules of our own that are imported inside a function."""


@dataclass(frozen=True)
class Import:
    """One imported module name, and whether the line stands inside a function or only serves type checking."""

    file: str
    line: int
    name: str
    inside_function: bool
    for_types: bool

    @property
    def package(self) -> str:
        return self.name.partition(".")[0]

    def __str__(self) -> str:
        return f"{self.file}:{self.line} imports {self.name}"


def source_files() -> list[Path]:
    return sorted(path for floor in FLOORS for path in (ROOT / floor).rglob("*.py"))


def imports_of(path: Path) -> Iterator[Import]:
    file = path.relative_to(ROOT).as_posix()
    yield from _walk(ast.parse(path.read_text(encoding="utf-8")), file, False, False)


def _walk(node: ast.AST, file: str, inside: bool, types: bool) -> Iterator[Import]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import):
            for alias in child.names:
                yield Import(file, child.lineno, alias.name, inside, types)
        elif isinstance(child, ast.ImportFrom):
            assert child.level == 0, f"{file}:{child.lineno}: write the import in full"
            module = child.module or ""
            yield Import(file, child.lineno, module, inside, types)
            for alias in child.names:
                if _is_module(f"{module}.{alias.name}"):
                    yield Import(file, child.lineno, f"{module}.{alias.name}", inside, types)
        else:
            function = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
            checking = isinstance(child, ast.If) and "TYPE_CHECKING" in ast.unparse(child.test)
            yield from _walk(child, file, inside or function, types or checking)


def _is_module(name: str) -> bool:
    path = ROOT.joinpath(*name.split("."))
    return path.with_suffix(".py").is_file() or (path / "__init__.py").is_file()


def module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


ALL_IMPORTS = [row for path in source_files() for row in imports_of(path)]


def test_no_floor_imports_a_higher_one():
    upward = [
        row
        for row in ALL_IMPORTS
        if row.package in FLOORS and FLOORS.index(row.package) > FLOORS.index(row.file.partition("/")[0])
    ]
    assert not upward, [str(row) for row in upward]


def test_nothing_imports_tests_or_sample_models():
    assert not [str(row) for row in ALL_IMPORTS if row.package in {"tests", "sample_models"}]


def test_no_import_of_our_own_is_hidden_inside_a_function():
    hidden = [row for row in ALL_IMPORTS if row.package in FLOORS and row.inside_function]
    assert not [str(row) for row in hidden if (row.file, row.name) not in LATE]
    assert {(row.file, row.name) for row in hidden} == LATE


def test_modules_import_each_other_in_no_circle():
    graph = {
        module_name(path): {
            row.name for row in imports_of(path) if row.package in FLOORS and _is_module(row.name) and not row.for_types
        }
        for path in source_files()
    }
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, f"circle: {' -> '.join((*trail[trail.index(name) :], name))}"
        if name not in done:
            for other in sorted(graph.get(name, ())):
                visit(other, (*trail, name))
            done.add(name)

    for name in sorted(graph):
        visit(name, ())


def test_ifc_is_touched_only_where_models_are_read_and_written():
    astray = [
        str(row)
        for row in ALL_IMPORTS
        if row.package in IFC_PACKAGES and not row.file.startswith(("takeoff/reading/", *IFC_WRITERS))
    ]
    assert not astray, astray


def test_geometry_knows_only_arrays_polygons_and_meshes():
    foreign = [
        str(row)
        for row in ALL_IMPORTS
        if row.file.startswith("geometry/")
        and row.package not in GEOMETRY_MAY_IMPORT | {"geometry"}
        and row.package not in sys.stdlib_module_names
    ]
    assert not foreign, foreign


def test_slow_packages_are_imported_where_they_are_used():
    early = [
        str(row)
        for row in ALL_IMPORTS
        if row.package in SLOW_PACKAGES and not row.inside_function and not row.for_types
    ]
    assert not early, early


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        ("import takeoff.model", [("takeoff.model", False)]),
        ("from takeoff import model", [("takeoff", False), ("takeoff.model", False)]),
        ("def f():\n    import pandas", [("pandas", True)]),
        ("class A:\n    def f(self):\n        from takeoff.model import Wall", [("takeoff.model", True)]),
    ],
)
def test_the_walk_sees_imports_wherever_they_stand(code, expected):
    rows = list(_walk(ast.parse(code), "takeoff/x.py", False, False))
    assert [(row.name, row.inside_function) for row in rows] == expected
