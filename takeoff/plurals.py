"""Numbers with their nouns."""

from __future__ import annotations


def plural(number: int, noun: str) -> str:
    """A number with its noun, in the plural where it needs it.

    >>> plural(1, "cavity"), plural(2, "cavity"), plural(2, "storey")
    ('1 cavity', '2 cavities', '2 storeys')
    """
    if noun.endswith("y") and noun[-2:] not in ("ay", "ey"):
        many = f"{noun[:-1]}ies"
    else:
        many = f"{noun}es" if noun.endswith(("s", "x", "z", "ch", "sh")) else f"{noun}s"
    return f"{number} {noun if number == 1 else many}"
