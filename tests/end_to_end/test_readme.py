"""README and DEVELOPERS cannot drift from the program: commands, columns, words and the Python example are checked."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from reports.cautions import FIRST
from reports.files import FILE_NAMES, result_texts
from takeoff.framing.rules import PRESETS
from takeoff.job import Job
from takeoff.model import CavityKind, MemberRole, Method, Status
from takeoff.tables import TABLES
from tests.readme_commands import set_up_commands
from tests.readme_tables import column_table, with_tables
from tests.records_builder import takeoff_of

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_first_paragraph_says_the_job_and_whom_it_serves():
    paragraph = README.split("\n\n")[1]
    for word in ("IFC", "cavities", "insulation", "estimator", "builder", "energy consultant", "crew"):
        assert word in paragraph, word


def test_the_set_up_is_exactly_two_commands_each_complete_on_a_fresh_machine():
    commands = set_up_commands(README)
    for command in commands.values():
        assert command.startswith("python3 -m venv .venv && .venv/bin/pip install ")
    assert " .venv/bin/bayfill takeoff sample_models/" in commands["run"]
    assert " .venv/bin/pytest" in commands["test"]


def test_ci_runs_the_test_command_of_the_readme_as_it_stands():
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "tests/readme_commands.py test" in script
    assert 'bash -euo pipefail -c "$test_command"' in script
    result = subprocess.run(
        [sys.executable, str(ROOT / "tests" / "readme_commands.py"), "test"],
        capture_output=True,
        text=True,
        check=True,
        stdin=subprocess.DEVNULL,
    )
    assert result.stdout.strip() == set_up_commands(README)["test"]


def test_ci_runs_style_and_types_before_the_tests():
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    places = [
        script.index(words) for words in ('ruff" check', 'ruff" format --check', 'pyright" --', '-c "$test_command')
    ]
    assert places == sorted(places)


def test_the_sample_model_of_the_set_up_command_is_there():
    words = shlex.split(set_up_commands(README)["run"])
    assert (ROOT / words[words.index("takeoff") + 1]).is_file()


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_the_columns_in_the_readme_are_those_of_the_schema(table):
    assert column_table(table) in README, "run: python -m tests.readme_tables"


def test_the_readme_has_no_column_table_of_a_file_that_is_gone():
    assert with_tables(README) == README
    named = set(re.findall(r"^### (\S+\.(?:csv|json|html))$", README, re.MULTILINE))
    assert named == set(FILE_NAMES)


def test_every_key_at_the_top_of_takeoff_json_stands_in_the_readme():
    section = README[README.index("### takeoff.json") :]
    data = json.loads(result_texts(takeoff_of())["takeoff.json"])
    wall = data["walls"][0]
    layer = wall["layers"][0]
    nested = [name for name, value in [*wall.items(), *layer.items()] if isinstance(value, list | dict)]
    for key in (*data, *data["model"], *nested, *layer["axes"], *layer["body"]):
        assert f"`{key}`" in section, key


@pytest.mark.parametrize("words", [CavityKind, Method, Status, MemberRole], ids=lambda words: words.__name__)
def test_every_word_of_the_result_is_explained(words):
    for word in words:
        assert f"`{word}`" in README, word


def test_every_framing_preset_stands_in_the_readme():
    for name in PRESETS:
        assert f"`{name}`" in README, name


def test_every_section_of_the_job_file_stands_in_the_readme_and_the_example_is_read():
    for name in Job.model_fields:
        assert f"`[{name}]`" in README or f"`[[{name}]]`" in README, name
    examples = re.findall(r"^```toml\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    assert examples
    for example in examples:
        Job.model_validate(tomllib.loads(example))


def test_the_python_example_runs(monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    (example,) = re.findall(r"^```python\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
    exec(compile(example, "README.md", "exec"), {})
    walls, volume = capsys.readouterr().out.split()
    assert int(walls) > 0
    assert float(volume) > 0.0


def test_the_readme_carries_the_cautions():
    section = README[README.index("## Cautions") :]
    assert "local codes" in FIRST.lower()
    assert section.index("Local codes") < section.index("goggles")
    for subject in ("respirator", "ladder", "recessed lights", "flues", "wiring", "ventilation"):
        assert subject in section, subject


def test_every_path_that_the_guides_name_is_there():
    for guide in (README, DEVELOPERS):
        for path in re.findall(r"`((?:takeoff|geometry|reports|tests|sample_models|\.ci)/[\w./]*)`", guide):
            assert (ROOT / path).exists(), path
