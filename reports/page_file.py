"""takeoff.html: the whole takeoff as one page that opens offline, from the built asset and takeoff.json's own data.

The asset (script, style, frame of the page, licences) is built from `reports/page/` and ships in `reports/data/page/`.
Text from a model can come into the page in two places only: the title, escaped as HTML, and the data, as JSON with
every `<` written as an escape, so that no name ends the element it stands in. The script shows it as text nodes.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Mapping
from importlib.metadata import PackageNotFoundError, version
from importlib.resources import files
from typing import Any

from reports.cautions import CAUTIONS, FIRST
from reports.page_data import FIBRE, page_data
from takeoff.result import Takeoff
from takeoff.schedule import Schedule, material_schedule, packages_of
from takeoff.schedule_stored import basis_from
from takeoff.totals import outcomes
from takeoff.units import CUBIC_FOOT, INCH, POUND, SQUARE_FOOT

_SLOT = re.compile("@@([a-z]+)@@")


def page_html(takeoff: Takeoff, document: Mapping[str, Any]) -> str:
    """The page of a takeoff; `document` is its takeoff.json as parsed. Same takeoff, same bytes."""
    schedule = material_schedule(basis_from(document["basis"]), takeoff.job)
    data = {
        **page_data(document, schedule),
        "version": _version(),
        "cautions": {"first": FIRST, "rest": CAUTIONS},
        "conversion": {"inch": INCH, "square_foot": SQUARE_FOOT, "cubic_foot": CUBIC_FOOT, "pound": POUND},
        "default_units": takeoff.job.report.units,
        "summary": summary_data(takeoff, schedule),
    }
    return filled_page(f"Takeoff of {takeoff.model_name}", takeoff.model_name, data)


def summary_data(takeoff: Takeoff, schedule: Schedule) -> dict[str, Any]:
    """What the top of the page says beside the totals: fibre, bags where the job knows their mass, walls left out."""
    fibre = schedule.line(FIBRE)
    bag = takeoff.job.fibre.bag_mass
    return {
        "fibre": takeoff.job.fibre.name,
        "fibre_mass_kg": fibre.net if fibre is not None else None,
        "bag_mass_kg": bag,
        "bags": packages_of(fibre.gross, bag) if fibre is not None and bag is not None else None,
        "left_out": [
            {
                "status": str(row.status),
                "reason": row.reason,
                "count": row.count,
                "area_m2": row.area,
                "names": list(row.names),
            }
            for row in outcomes(takeoff.results)
        ],
    }


def filled_page(title: str, heading: str, data: Mapping[str, Any]) -> str:
    """The page from its asset. The policy lets just this script and this style sheet run, and nothing be fetched."""
    script, style = asset("page.js"), asset("page.css")
    policy = (
        f"default-src 'none'; script-src {_digest(script)}; style-src {_digest(style)}; "
        "base-uri 'none'; form-action 'none'"
    )
    parts = {
        "policy": policy,
        "title": html.escape(title),
        "heading": html.escape(heading),
        "style": style,
        "licences": html.escape(asset("LICENCES.txt")),
        "data": json_in_html(data),
        "script": script,
    }
    return _SLOT.sub(lambda slot: parts[slot[1]], asset("page.html"))


def asset(name: str) -> str:
    """A file of the built front end."""
    return files("reports").joinpath("data", "page", name).read_text(encoding="utf-8")


def json_in_html(data: Mapping[str, Any]) -> str:
    """JSON that may stand inside a script element: no `<`, so neither an end tag nor a comment can begin in it."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


def _digest(text: str) -> str:
    """Source expression of Content Security Policy for one inline text (Content Security Policy Level 3, 2.3.1)."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _version() -> str:
    try:
        return version("bayfill")
    except PackageNotFoundError:
        return "from source"
