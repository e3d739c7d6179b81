"""Times a process as a whole and reads its peak memory."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

# ru_maxrss is in kilobytes on Linux, in bytes on macOS.
BYTES_A_UNIT = 1 if sys.platform == "darwin" else 1024


@dataclass(frozen=True, slots=True)
class Measurement:
    """One run of one process."""

    seconds: float
    processor_seconds: float
    """User and system time: says more than the clock where other work shares the machine."""
    peak_mb: float
    """10^6 bytes; the process itself or its biggest child, whichever is more."""
    exit_code: int
    output: str
    complaint: str
    """Last line of what it wrote to standard error."""


def run_once(command: Sequence[str], environment: Mapping[str, str], folder: str) -> Measurement:
    """Runs a command to its end.

    `os.wait4` gives the memory of this very child; the total over all children would keep the largest of earlier
    ones. The measuring process itself stays small, since a child can begin with its parent's peak on record.
    """
    with tempfile.TemporaryFile() as output, tempfile.TemporaryFile() as complaints:
        begin = time.perf_counter()
        process = subprocess.Popen(command, stdout=output, stderr=complaints, env=dict(environment), cwd=folder)
        _, status, usage = os.wait4(process.pid, 0)
        seconds = time.perf_counter() - begin
        process.returncode = os.waitstatus_to_exitcode(status)
        output.seek(0)
        complaints.seek(0)
        written = output.read().decode(errors="replace")
        lines = complaints.read().decode(errors="replace").strip().splitlines()
    peak = usage.ru_maxrss * BYTES_A_UNIT / 1e6
    busy = usage.ru_utime + usage.ru_stime
    return Measurement(seconds, busy, peak, process.returncode, written, lines[-1] if lines else "")


def best(runs: Sequence[Measurement]) -> Measurement:
    """The quickest run, by the clock and by the processor each for itself, with the largest memory of all of them."""
    return replace(
        runs[-1],
        seconds=min(run.seconds for run in runs),
        processor_seconds=min(run.processor_seconds for run in runs),
        peak_mb=max(run.peak_mb for run in runs),
    )
