"""Design conductivities by the words of a material name, in several languages; what is not known stays unknown.

Names in models are free text in any language. A name is cut into words; every row of `material_words.csv` says which
words must occur, and `design_conductivities.csv` what they mean. The row of the highest rank wins (plywood over wood);
rows of the same rank that disagree leave the question open. A family without a grade (brick, concrete) is given the
highest conductivity of its family, so that a U-value stays on the safe side. Names that tell too little
(insulation, board, block) have rows of their own that say what to ask for.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from takeoff.thermal.errors import ThermalError
from takeoff.thermal.tables import needed, number, reference, table

INSULATION_GROUP = "insulation"
INSULATION_BELOW = 0.065
"""W/(m K): a material whose conductivity the model gives counts as insulation up to here. Own rule, after the common
practice of national rules; no published source."""

PLAUSIBLE = (0.005, 500.0)
"""W/(m K), from vacuum panels to copper; a figure outside is a slip of units. Own rule."""

LONGEST_NAME = 200
"""Characters of a material name that are looked at; names come from outside."""

_HARD_GROUPS = frozenset({"masonry", "plaster", "cement", "metal"})
_FOLDED = str.maketrans({"ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ı": "i", "λ": " lambda "})
_CLASS_IN_NAME = re.compile(r"\b(?:wlg|wls)\s*0?(\d\d)\b")
_FIGURE_IN_NAME = re.compile(r"(?<![\d.,])(\d{1,3}[.,]\d{1,4})\s*w\s*[/\s]\s*\(?\s*m\s*[\s*.·-]?\s*k\b")


@dataclass(frozen=True, slots=True)
class DesignValue:
    """What is known of a material's heat conduction. Either `conductivity` or `resistance` is set, or neither."""

    text: str
    """The name that was looked up."""
    key: str
    """Key of the table row, 'stated in the name', or empty."""
    conductivity: float | None
    """W/(m K)"""
    resistance: float | None
    """m2 K/W of one layer as applied, for products such as lapped siding; its thickness does not matter."""
    insulation: bool
    source: str
    reason: str
    """Why this row, or why none."""


@dataclass(frozen=True, slots=True)
class _Row:
    key: str
    rank: int
    patterns: tuple[re.Pattern[str], ...]


@dataclass(frozen=True, slots=True)
class _Hit:
    strength: tuple[int, int]
    """Rank of the row, then how many words it asks for."""
    words: frozenset[str]
    """Words of the name that the row accounts for."""


def fold(text: str) -> str:
    """A name in lower case without accents, its words parted by single blanks, glued words parted at their capitals.

    >>> fold('GypsumWallBoard_Mod')
    'gypsum wall board mod'
    """
    parted = re.sub(r"(?<=[^\W\d_])(?=[A-Z][a-z])", lambda _: " ", text[:LONGEST_NAME])
    flat = unicodedata.normalize("NFKD", parted.casefold().translate(_FOLDED))
    flat = "".join(letter for letter in flat if not unicodedata.combining(letter))
    return " ".join(re.sub(r"[^\w.,/()]+|_", " ", flat).split())


def design_value(*texts: str) -> DesignValue:
    """The design value for a material from its name and, where the name tells nothing, its other texts (category).

    The first text that names a known material decides. A conductivity that a name states itself (a German WLG class,
    '0.035 W/mK') comes before the table.

    >>> design_value('Gipskartonplatte 12,5').conductivity
    0.25
    >>> design_value('Insulation').conductivity is None
    True
    """
    answer = DesignValue("", "", None, None, False, "", "The model names no material.")
    for text in texts:
        if not text.strip():
            continue
        found = _look_up(text)
        if found.conductivity is not None or found.resistance is not None:
            return found
        if not answer.key:
            answer = found
    return answer


def design_value_by_key(key: str) -> DesignValue:
    """The table row of that key. Raises ThermalError for a key that is not in the table."""
    row = _design_rows().get(key)
    if row is None:
        raise ThermalError(f"There is no design value with the key '{key}'.")
    return _from_row(row, key, "asked for by key")


@lru_cache(maxsize=1024)
def names_metal(text: str) -> bool:
    """True where a material name speaks of metal in any of its words, such as 'Steel stud' or 'Metallständer'.

    >>> names_metal('Metal Stud Layer'), names_metal('Wood stud')
    (True, False)
    """
    hits = _hits(re.findall(r"[^\W_]+", fold(text)))
    return any(_design_rows()[key]["group"] == "metal" for key in hits)


@lru_cache(maxsize=1024)
def _look_up(text: str) -> DesignValue:
    folded = fold(text)
    stated = _stated(folded)
    if stated is not None:
        return DesignValue(
            text, "stated in the name", stated, None, stated <= INSULATION_BELOW, f"the name '{text}'",
            "the material's name states its conductivity",
        )  # fmt: skip
    hits = _hits(re.findall(r"[^\W_]+", folded))
    if not hits:
        return DesignValue(text, "", None, None, False, "", f"'{text}' is in no row of the table of materials.")
    best = max(hit.strength for hit in hits.values())
    keys = sorted(key for key, hit in hits.items() if hit.strength == best)
    rows = [_design_rows()[key] for key in keys]
    if len({(row["conductivity_w_mk"], row["resistance_m2k_w"]) for row in rows}) == 1:
        rows = rows[:1] + _denials(rows[0], hits)
    if len(rows) > 1:
        described = " or ".join(row["description"] for row in rows)
        return DesignValue(text, "", None, None, False, "", f"'{text}' could be {described}.")
    return _from_row(rows[0], text, f"'{text}' names {rows[0]['description']}")


def _hits(words: Sequence[str]) -> Mapping[str, _Hit]:
    """The strongest match of every table row with the words of a name."""
    hits: dict[str, _Hit] = {}
    for row in _word_rows():
        matched = [{word for word in words if pattern.fullmatch(word)} for pattern in row.patterns]
        if not all(matched):
            continue
        hit = _Hit((row.rank, len(row.patterns)), frozenset().union(*matched))
        if row.key not in hits or hit.strength > hits[row.key].strength:
            hits[row.key] = hit
    return hits


def _denials(winner: Mapping[str, str], hits: Mapping[str, _Hit]) -> list[Mapping[str, str]]:
    """Rows that deny an insulation: the name also speaks of masonry, plaster, cement or metal in words of their own.

    Polystyrene concrete, perlite plaster and glass-fibre concrete are not the insulation that their name begins with.
    """
    if winner["group"] != INSULATION_GROUP:
        return []
    explained = hits[winner["key"]].words
    return [
        _design_rows()[key]
        for key, hit in sorted(hits.items())
        if _design_rows()[key]["group"] in _HARD_GROUPS and not hit.words <= explained
    ]


def _from_row(row: Mapping[str, str], text: str, reason: str) -> DesignValue:
    conductivity = number(row, "conductivity_w_mk")
    resistance = number(row, "resistance_m2k_w")
    if conductivity is None and resistance is None:
        return DesignValue(text, row["key"], None, None, False, "", f"'{text}': {row['note']}")
    if row["note"]:
        reason = f"{reason}; {row['note']}"
    insulation = row["group"] == INSULATION_GROUP
    return DesignValue(text, row["key"], conductivity, resistance, insulation, reference(row), reason)


def _stated(folded: str) -> float | None:
    """The conductivity that a folded name states, W/(m K)."""
    found = _CLASS_IN_NAME.search(folded)
    if found:
        return int(found.group(1)) / 1000.0
    found = _FIGURE_IN_NAME.search(folded)
    if found:
        value = float(found.group(1).replace(",", "."))
        return value if PLAUSIBLE[0] <= value <= PLAUSIBLE[1] else None
    return None


@cache
def _design_rows() -> Mapping[str, Mapping[str, str]]:
    return {row["key"]: row for row in table("design_conductivities")}


@cache
def _word_rows() -> tuple[_Row, ...]:
    designs = _design_rows()
    rows = []
    for row in table("material_words"):
        if row["key"] not in designs:
            raise ThermalError(f"material_words.csv names '{row['key']}', which is no design value.")
        rank = int(needed(designs[row["key"]], "rank"))
        patterns = tuple(re.compile(re.escape(word).replace(r"\*", ".*")) for word in row["words"].split())
        rows.append(_Row(row["key"], rank, patterns))
    return tuple(rows)
