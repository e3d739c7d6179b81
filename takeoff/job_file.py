"""Reads a job file. A value that the file does not set keeps its default."""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

from pydantic import Field, ValidationError, model_validator

from takeoff.errors import TakeoffError
from takeoff.job_faults import sentences
from takeoff.job_framing import Framing, KeyFaults, meant
from takeoff.job_sections import Batt, Fibre, Hose, Insulate, Layers, Preparations, Report, ToleranceSection
from takeoff.job_thermal import PlanCheck, Thermal
from takeoff.job_values import Section
from takeoff.schedule_job import Labour, Netting, Protection, Quote, Risk, Truck, Waste
from takeoff.wall_rules import ACTIONS, WallBlock

LARGEST_FILE = 4_000_000
"""Bytes; a job file for a thousand wall types stays well below."""
MOST_WALL_BLOCKS = 20_000
MOST_FAULTS_SHOWN = 20


class JobError(TakeoffError, ValueError):
    """A job file that cannot be used. `path` is the file, `faults` one sentence each, naming key and mend."""

    def __init__(self, path: str, faults: Sequence[str]) -> None:
        super().__init__(path, tuple(faults))
        self.path = path
        self.faults = tuple(faults)

    def __str__(self) -> str:
        shown = self.faults[:MOST_FAULTS_SHOWN]
        rest = len(self.faults) - len(shown)
        more = f"; and {rest} more" if rest else ""
        return f"job file {self.path}: {'; '.join(shown)}{more}"


class Job(Section):
    """Everything that a takeoff assumes."""

    report: Report = Report()
    insulate: Insulate = Insulate()
    framing: Framing = Framing()
    layers: Layers = Layers()
    hose: Hose = Hose()
    fibre: Fibre = Fibre()
    batt: Batt = Batt()
    preparations: Preparations = Preparations()
    tolerances: ToleranceSection = ToleranceSection()
    thermal: Thermal = Thermal()
    plan_check: PlanCheck = PlanCheck()
    netting: Netting = Netting()
    waste: Waste = Waste()
    labour: Labour = Labour()
    protection: Protection = Protection()
    truck: Truck = Truck()
    quote: Quote = Quote()
    risk: Risk = Risk()
    wall: Annotated[tuple[WallBlock, ...], Field(max_length=MOST_WALL_BLOCKS)] = ()
    """Blocks that say something; one that only selects walls says nothing and is dropped."""

    @model_validator(mode="after")
    def _framing_of_walls(self) -> Job:
        known = self.framing.rule_sets
        faults = [
            (
                ("wall", number, "framing"),
                f"no framing rules are named {block.framing!r}; {meant(block.framing, known)}",
            )
            for number, block in enumerate(self.wall)
            if block.framing is not None and block.framing not in known
        ]
        if faults:
            raise KeyFaults(faults)
        return self


@functools.cache
def default_job() -> Job:
    """The job that holds where no file says otherwise."""
    return Job()


def load_job(path: str | Path) -> Job:
    """Reads a job file.

    Raises:
        JobError: the file cannot be read, is no TOML, or holds keys or values that are not understood; all faults of
            a file are named at once.
    """
    return read_job(_text_of(Path(path)), str(path))


def read_job(text: str, name: str = "job file") -> Job:
    """The job in a TOML text; `name` is what errors call the file. Raises JobError as `load_job` does."""
    try:
        table = tomllib.loads(text)
    except ValueError as error:  # TOMLDecodeError, or a whole number of thousands of digits
        raise JobError(name, [f"is no valid TOML: {error}; mend that line"]) from error
    except RecursionError as error:
        raise JobError(name, ["is nested too deeply; a job file needs two levels"]) from error
    try:
        job = Job.model_validate(table)
    except ValidationError as error:
        raise JobError(name, sentences(error, Job)) from error
    speaking = tuple(block for block in job.wall if any(getattr(block, key) is not None for key in ACTIONS))
    return job if len(speaking) == len(job.wall) else job.model_copy(update={"wall": speaking})


def _text_of(path: Path) -> str:
    try:
        if not path.is_file():
            raise JobError(str(path), ["is no file; give the path of a TOML file"])
        if path.stat().st_size > LARGEST_FILE:
            raise JobError(str(path), [f"is larger than {LARGEST_FILE // 1_000_000} MB; it cannot be a job file"])
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or str(error)
        raise JobError(str(path), [f"cannot be read ({reason}); give the path of a TOML file"]) from error
    try:
        # A mark at the start of the file, as some editors write it, is no part of the text.
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise JobError(str(path), [f"is not UTF-8 text (line {line}); save it as UTF-8"]) from error
