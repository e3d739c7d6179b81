"""The benchmark: `python -m tests.bench.run [--cases NAME ...] [--repeats N] [--out FILE.json] [--list]`.

For each model it times, in turn, `bayfill takeoff --no-page` and a bare script that opens the model and tessellates its
walls, both as whole processes, after one run of each that is not counted; the best of N counts (of two at most for
5,000 walls). `by cpu` is the same ratio in processor time, for a machine that others use too. Targets: ratio 2.0 on the
duplex and on 1,000 walls, memory below 500 MB, the same cost per wall from 100 to 5,000 walls. Not part of the test
run: nothing there asserts a time.
"""

from __future__ import annotations

import argparse
import compileall
import itertools
import json
import os
import platform
import subprocess
import sys
import sysconfig
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

from tests.bench.measure import Measurement, best, run_once

ROOT = Path(__file__).resolve().parents[2]
MODELS = ROOT.parent / "shared" / "models"
TARGET_RATIO = 2.0
TARGET_MB = 500.0
TAKEOFF = "import sys; from reports.cli import main; sys.exit(main())"


@dataclass(frozen=True, slots=True)
class Case:
    """One model to measure: a file, or a number of walls to generate."""

    name: str
    file: Path | None = None
    walls: int = 0
    ratio_counts: bool = False
    """Whether the target ratio is set for this model."""
    most_repeats: int = 20
    """More runs than this of a long case tell nothing new."""

    @property
    def absent(self) -> str:
        """Why the case cannot be measured here, else empty."""
        return f"{self.file} is not there" if self.file is not None and not self.file.is_file() else ""


CASES = (
    Case("duplex", file=MODELS / "duplex-architecture.ifc", ratio_counts=True),
    Case("100 walls", walls=100),
    Case("1000 walls", walls=1000, ratio_counts=True),
    Case("5000 walls", walls=5000, most_repeats=2),
)


def environment() -> dict[str, str]:
    """The processes' environment: this project and its sample writers are found, whatever is installed."""
    paths = os.pathsep.join((str(ROOT), str(ROOT / "sample_models")))
    return {**os.environ, "PYTHONPATH": paths}


def compile_bytecode() -> None:
    """Compiles the project and what is installed, so that no run pays for compiling."""
    for folder in (*(ROOT / name for name in ("geometry", "takeoff", "reports")), Path(sysconfig.get_path("purelib"))):
        compileall.compile_dir(folder, quiet=2, workers=0)


def generate(walls: int, path: Path) -> None:
    """Writes a model of many walls, in a process of its own."""
    script = Path(__file__).with_name("many_walls.py")
    subprocess.run([sys.executable, str(script), str(walls), str(path)], check=True, env=environment())


def commands(model: Path, folder: Path) -> dict[str, list[str]]:
    """What is timed: the bare script and the takeoff."""
    return {
        "bare": [sys.executable, str(Path(__file__).with_name("bare.py")), str(model)],
        "takeoff": [sys.executable, "-c", TAKEOFF, "takeoff", str(model), "--no-page", "--out", str(folder / "result")],
    }


def measure(case: Case, repeats: int, folder: Path) -> dict[str, Any]:
    """Measures one case; a process that fails is reported, not timed."""
    if case.absent:
        return {"case": case.name, "skipped": case.absent}
    model = case.file or folder / f"{case.walls}-walls.ifc"
    if case.file is None:
        generate(case.walls, model)
    runs: dict[str, list[Measurement]] = {"bare": [], "takeoff": []}
    for turn in range(min(repeats, case.most_repeats) + 1):
        with tempfile.TemporaryDirectory(dir=folder) as result:
            for name, command in commands(model, Path(result)).items():
                run = run_once(command, environment(), result)
                if run.exit_code != 0:
                    return {"case": case.name, "failed": f"{name} ended with {run.exit_code}: {run.complaint}"}
                if turn > 0:
                    runs[name].append(run)
    bare, takeoff = (best(runs[name]) for name in ("bare", "takeoff"))
    walls = int(json.loads(bare.output)["walls"])
    return {
        "case": case.name,
        "walls": walls,
        "bare_s": round(bare.seconds, 3),
        "takeoff_s": round(takeoff.seconds, 3),
        "ratio": round(takeoff.seconds / bare.seconds, 2),
        "bare_processor_s": round(bare.processor_seconds, 3),
        "takeoff_processor_s": round(takeoff.processor_seconds, 3),
        "processor_ratio": round(takeoff.processor_seconds / bare.processor_seconds, 2),
        "ratio_target": TARGET_RATIO if case.ratio_counts else None,
        "bare_mb": round(bare.peak_mb),
        "takeoff_mb": round(takeoff.peak_mb),
        "takeoff_mb_target": TARGET_MB,
        "bare_ms_per_wall": round(1000 * bare.seconds / walls, 2),
        "takeoff_ms_per_wall": round(1000 * takeoff.seconds / walls, 2),
    }


def added_cost(rows: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """Cost of each further wall between generated models, which leaves the start of the process out."""
    sized = [row for row in rows if "takeoff_s" in row and row["case"] != "duplex"]
    return [
        {
            "from": small["walls"],
            "to": large["walls"],
            **{
                f"{name}_ms_per_wall": round(
                    1000 * (large[f"{name}_s"] - small[f"{name}_s"]) / (large["walls"] - small["walls"]), 2
                )
                for name in ("bare", "takeoff")
            },
        }
        for small, large in itertools.pairwise(sized)
    ]


def report(rows: Sequence[dict[str, Any]], repeats: int) -> dict[str, Any]:
    """All that was measured, with the machine it was measured on."""
    return {
        "machine": {
            "system": platform.platform(),
            "processors": os.cpu_count(),
            "python": platform.python_version(),
            "ifcopenshell": version("ifcopenshell"),
        },
        "repeats": repeats,
        "cases": list(rows),
        "added_cost": added_cost(rows),
    }


def table(result: dict[str, Any]) -> str:
    """The report for a person."""
    titles = f"{'bare s':>9}{'takeoff s':>11}{'ratio':>8}{'by cpu':>8}{'MB':>7}{'ms a wall':>11}  target"
    lines = [f"{'case':<12}{'walls':>7}{titles}"]
    for row in result["cases"]:
        if "takeoff_s" not in row:
            lines.append(f"{row['case']:<12}{row.get('skipped') or row.get('failed')}")
            continue
        met = row["takeoff_mb"] < TARGET_MB and row["ratio"] <= (row["ratio_target"] or row["ratio"])
        lines.append(
            f"{row['case']:<12}{row['walls']:>7}{row['bare_s']:>9.2f}{row['takeoff_s']:>11.2f}{row['ratio']:>8.2f}"
            f"{row['processor_ratio']:>8.2f}"
            f"{row['takeoff_mb']:>7}{row['takeoff_ms_per_wall']:>11.2f}  {'met' if met else 'MISSED'}"
        )
    for row in result["added_cost"]:
        lines.append(
            f"each further wall from {row['from']} to {row['to']}: "
            f"{row['takeoff_ms_per_wall']} ms (bare {row['bare_ms_per_wall']} ms)"
        )
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Runs the benchmark; 1 where a process failed, whatever the times."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.run", description=__doc__)
    parser.add_argument("--cases", nargs="+", choices=[case.name for case in CASES], help="only these models")
    parser.add_argument("--repeats", type=int, default=3, help="runs that count, after one that does not")
    parser.add_argument("--out", type=Path, help="write the report as JSON")
    parser.add_argument("--list", action="store_true", help="list the cases and stop")
    options = parser.parse_args(arguments)
    if options.repeats < 1:
        parser.error("--repeats must be at least 1")
    chosen = [case for case in CASES if options.cases is None or case.name in options.cases]
    if options.list:
        for case in chosen:
            print(case.name)
        return 0
    compile_bytecode()
    with tempfile.TemporaryDirectory() as folder:
        rows = [measure(case, options.repeats, Path(folder)) for case in chosen]
    result = report(rows, options.repeats)
    print(table(result))
    if options.out is not None:
        options.out.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")
    return 1 if any("failed" in row for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())
