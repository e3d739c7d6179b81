"""Quotes of the sample models for tests, each made once in a run, and readers of their files."""

from __future__ import annotations

import csv
import io
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pypdf

from reports.files import result_texts
from reports.quote import QuoteWork, quote_work
from reports.quote_files import quote_files
from reports.takeoff_json import takeoff_json
from takeoff import take_off
from takeoff.job import read_job
from takeoff.schedule_stored import stored_takeoff
from tests.price_book_builder import sample_book

ROOT = Path(__file__).resolve().parents[1]
SHARED = ROOT.parent / "shared" / "models"
MODELS = ("two_storey_house", "garden_studio", "steel_wall")
JOB = """
[report]
units = "{units}"
[quote]
client = "Alder and Elm Builders (invented); 4 Ford Road"
site = "Plot 7"
reference = "Q-0042"
date = 2026-03-02
billed_area = "openings_over_size"
[[quote.alternates]]
name = "Cellulose"
fibre = "cellulose"
density = "60 kg/m3"
conductivity = "0.04 W/(m K)"
[[quote.alternates]]
name = "Deeper studs"
depth = "184 mm"
"""
CASES = tuple((model, units) for model in MODELS for units in ("metric", "us"))


@cache
def sample_quote(model: str, units: str) -> tuple[str, QuoteWork, dict[str, str | bytes], dict[str, str]]:
    """Units, work, files of the quote and texts of the takeoff."""
    taken = take_off(ROOT / "sample_models" / f"{model}.ifc", read_job(JOB.format(units=units)))
    work = quote_work(stored_takeoff(takeoff_json(taken)), sample_book())
    return units, work, quote_files(work), result_texts(taken, page=False)


def text_of(pdf: bytes) -> str:
    """The words of a PDF."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return "\n".join(page.extract_text() for page in pages).replace("\u202f", "").replace("\u00a0", " ")


def csv_of(files: dict[str, Any], name: str) -> list[dict[str, str]]:
    """Rows of a CSV file of a quote or takeoff."""
    return list(csv.DictReader(io.StringIO(files[f"{name}.csv"])))


def workbook_of(content: bytes, **options: bool) -> openpyxl.Workbook:
    """A workbook from its bytes."""
    return openpyxl.load_workbook(io.BytesIO(content), **options)
