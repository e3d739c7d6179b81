"""The consultant's statement: a PDF of two pages, on A4 or Letter, legible in black and white."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

from reports.crew_pages import PAPERS, PaperName
from reports.drawing_text import FONT_FOLDER, is_covered
from reports.statement_plans import second_page
from reports.statement_walls import first_page
from reports.statement_words import NAMES, Room, raised
from takeoff.building import Model
from takeoff.errors import TakeoffError
from takeoff.plans.plan_check import PlanCheck

TEMPLATE = Path(__file__).parent / "data" / "statement.typ"
STATEMENT_NAME = "statement.pdf"
PAGES = 2
_SHARES = (0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95, 1.0)
"""How much of the usual rows may be shown; the most that two pages hold is."""

_WORTH = 0.6
"""Share of the rows that have to stay where long names wrap instead of losing their middle."""


class StatementError(TakeoffError):
    """The statement could not be made."""


def statement_pdf(model: Model, check: PlanCheck, paper: PaperName = "a4") -> bytes:
    """The statement. Same check, same bytes. Raises StatementError where the page layout program is missing or fails.

    Tables show fewer rows, and say how many are left, where the full ones would not fit on two pages.
    """
    made = _compiled(_fitting(model, check, paper), "pdf")
    if not isinstance(made, bytes):
        raise StatementError("the statement could not be laid out: the page layout program gave no document")
    return made


def _fitting(model: Model, check: PlanCheck, paper: PaperName) -> dict[str, object]:
    """The texts with as many rows as each of the two pages holds; long names wrap where that costs few of them."""

    def fits(first: Room, second: Room) -> bool:
        return _page_count(_data(model, check, paper, first, second)) <= PAGES

    least = _room(0.0)
    first = _roomiest(lambda room: fits(room, least))
    second = _roomiest(lambda room: fits(first, room))
    return _data(model, check, paper, first, second)


def _roomiest(fits: Callable[[Room], bool]) -> Room:
    """The room with the most rows that fits, with whole names where these cost few of them."""
    most = _largest(lambda share: fits(_room(share)))
    whole = _largest(lambda share: fits(_room(share, whole_names=True)))
    names = whole >= _WORTH * most and fits(_room(whole, whole_names=True))
    return _room(whole if names else most, whole_names=names)


def _room(share: float, *, whole_names: bool = False) -> Room:
    return replace(Room().scaled(share), whole_names=whole_names)


def _largest(fits: Callable[[float], bool]) -> float:
    """The largest share that fits, found by halving; 0 where none does."""
    low, high = -1, len(_SHARES) - 1
    if fits(_SHARES[high]):
        return _SHARES[high]
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if fits(_SHARES[middle]) else (low, middle)
    return _SHARES[low] if low >= 0 else 0.0


def _data(model: Model, check: PlanCheck, paper: PaperName, first: Room, second: Room) -> dict[str, object]:
    """first, second: the rooms of the two pages."""
    texts = {**first_page(check, first), **second_page(model, check, second)}
    return {**{name: raised(each) if name not in NAMES else each for name, each in texts.items()},
            "paper": PAPERS[paper]}  # fmt: skip


def _page_count(data: Mapping[str, object]) -> int:
    """Pages that the texts take; drawn roughly, which is fast."""
    pages = _compiled(data, "svg")
    return len(pages) if isinstance(pages, list) else 1


def _compiled(data: Mapping[str, object], kind: str) -> bytes | list[bytes] | None:
    try:
        import typst
    except ImportError as error:
        raise StatementError("the statement needs the package typst: install it with 'pip install typst'") from error
    text = json.dumps(data, ensure_ascii=False)
    try:
        return typst.compile(
            str(TEMPLATE),
            format=kind,  # type: ignore[arg-type]
            font_paths=[str(FONT_FOLDER)],
            # Fonts of the machine serve only for scripts that ours does not have: else the same bytes everywhere.
            ignore_system_fonts=is_covered(text),
            sys_inputs={"data": text},
        )
    except typst.TypstError as error:
        raise StatementError(f"the statement could not be laid out: {' '.join(str(error).split())[:200]}") from error
