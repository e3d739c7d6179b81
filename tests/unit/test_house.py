"""The house keeps its shape: what lies at the top, how long a module gets, what is documented."""

from __future__ import annotations

import ast
import re
import subprocess
from pathlib import Path

import pytest

from reports.cli import application
from takeoff.framing.rules import PRESETS

ROOT = Path(__file__).resolve().parents[2]
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "takeoff",
    "geometry",
    "reports",
    "tests",
    "sample_models",
}
MOST_LINES = 450
"""Lines of a module that hold something; longer ones are split by noun."""
MODULES = sorted(path for floor in ("geometry", "takeoff", "reports") for path in (ROOT / floor).rglob("*.py"))


def tracked_files() -> list[str]:
    result = subprocess.run(
        ["git", "-C", str(ROOT), "ls-files"], capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL
    )
    if result.returncode != 0:
        pytest.skip("not a git clone, so nothing says which files belong to the project")
    return result.stdout.splitlines()


def test_the_top_level_holds_only_what_the_house_lists():
    top = {name.partition("/")[0] for name in tracked_files()}
    assert {name for name in top if not name.startswith(".")} <= TOP_LEVEL


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_module_is_too_long_to_read(path):
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]
    assert len(lines) <= MOST_LINES


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_every_module_and_every_public_function_says_what_it_is_for(path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert not tree.body or ast.get_docstring(tree), "the module"
    silent = [
        node.name
        for node in tree.body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_") and not ast.get_docstring(node)
    ]
    assert not silent, silent


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_nothing_catches_everything_and_no_module_is_a_catch_all(path):
    assert path.stem not in {"utils", "helpers", "misc", "common"}
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ExceptHandler):
            assert node.type is not None, f"line {node.lineno} catches everything"
            assert "Exception" not in ast.unparse(node.type).split(), f"line {node.lineno} catches everything"


def commands() -> dict[str, str]:
    """Name and help of each registered command."""
    return {
        command.name or command.callback.__name__: (command.callback.__doc__ or "")
        for command in application().registered_commands
        if command.callback is not None
    }


@pytest.mark.parametrize("name", ["takeoff", "survey"])
def test_every_command_has_help_and_stands_in_the_readme(name):
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert set(commands()) >= {"takeoff", "survey"}
    assert commands()[name]
    assert f"bayfill {name}" in readme


def test_no_command_is_missing_from_the_readme():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for name, words in commands().items():
        assert words, name
        assert f"bayfill {name}" in readme, name


def finding_codes(path: Path) -> set[str]:
    """Texts of a module that look like codes of findings: small letters and hyphens, and no docstring."""
    return {
        node.value
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and re.fullmatch("[a-z]+(-[a-z]+)+", node.value)
    }


NO_CODES = {"takeoff/reading/kernel.py", "takeoff/reading/representations.py", "takeoff/framing/rules.py"}
"""Their hyphened words are settings of the geometry kernel, names of representations and names of presets."""


def test_the_guide_lists_every_finding_code_and_no_other():
    section = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Finding codes")[1].split("\n## ")[0]
    listed = set(re.findall("`([a-z]+(?:-[a-z]+)+)`", section))
    used = set().union(*(finding_codes(path) for path in MODULES if path.relative_to(ROOT).as_posix() not in NO_CODES))
    used = {code for code in used if code not in PRESETS}
    assert sorted(used - listed) == [], "not in DEVELOPERS.md"
    assert sorted(listed - used) == [], "in DEVELOPERS.md, but nowhere in the code"
