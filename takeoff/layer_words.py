"""Finds the trade's words in the names of materials and layers, in many languages.

The words lie in `data/layer_words.toml`. Text and words are compared without accents and capitals; a name is cut into
words at spaces, signs, digits and inner capitals ('MetalStud_92mm' -> metal, stud, 92, mm).
"""

from __future__ import annotations

import functools
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib import resources

LONGEST_NAME = 500
"""Characters of a name that are looked at."""

ROLE_GROUPS = (
    "stud",
    "weak_stud",
    "batten",
    "insulation",
    "air",
    "membrane",
    "lining",
    "sheathing",
    "cladding",
    "finish",
    "masonry",
    "solid",
)
MATERIAL_GROUPS = ("wood", "steel")
WALL_GROUPS = ("framed_wall",)
NAMELESS_GROUPS = ("structure_name",)

_PLAIN_LETTERS = str.maketrans({"ø": "o", "đ": "d", "ł": "l", "ı": "i", "ð": "d", "æ": "ae", "œ": "oe", "þ": "th"})
_TWO_LETTERS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"})


@dataclass(frozen=True, slots=True)
class WordFound:
    """A word of the trade in a name."""

    group: str
    word: str
    """As the list of words has it, without stars."""
    start: int
    """Index of its first word in the name."""
    end: int
    """Index past its last."""


Token = tuple[str, str]
"""Kind ('whole', 'start', 'end' or 'any') and letters."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the list, ready to compare."""

    group: str
    word: str
    tokens: tuple[Token, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Vocabulary:
    """Entries sorted by how they are looked up."""

    whole: Mapping[str, tuple[Entry, ...]]
    """Single whole words."""
    parts: tuple[Entry, ...]
    """Single words with stars."""
    phrases: tuple[Entry, ...]
    """Entries of several words, longest first."""


def plain(text: str) -> str:
    """Small letters without accents."""
    text = text.casefold()
    if text.isascii():  # as nearly all are; nothing is left to take apart then
        return text
    apart = unicodedata.normalize("NFKD", text.translate(_PLAIN_LETTERS))
    return "".join(char for char in apart if not unicodedata.combining(char)).translate(_PLAIN_LETTERS)


def words_of(text: str) -> tuple[str, ...]:
    """A name cut into plain words.

    >>> words_of("CC_METAL StudLayer-92mm")
    ('cc', 'metal', 'stud', 'layer', '92', 'mm')
    """
    text = unicodedata.normalize("NFC", text[:LONGEST_NAME])
    pieces: list[str] = []
    for index, char in enumerate(text):
        if not char.isalnum():
            pieces.append(" ")
            continue
        if index and _starts_a_word(text, index):
            pieces.append(" ")
        pieces.append(char)
    # What is left after taking accents apart may hold signs again, such as fractions.
    spaced = plain("".join(pieces))
    return tuple("".join(char if char.isalnum() else " " for char in spaced).split())


def _starts_a_word(text: str, index: int) -> bool:
    before, char = text[index - 1], text[index]
    if before.isdigit() != char.isdigit():
        return True
    if before.islower() and char.isupper():
        return True
    # 'OSBPlatte' is OSB and Platte; 'OSBs' is one word.
    after = text[index + 1 : index + 3]
    return before.isupper() and char.isupper() and len(after) == 2 and after.isalpha() and after.islower()


def parse_entry(group: str, word: str) -> tuple[Entry, ...]:
    """An entry and, where it has umlauts, its form in two letters. Empty where nothing is left to compare."""
    shown = word.replace("*", "")
    spellings = {plain(word): None}
    if not word.isascii():
        spellings[plain(word.casefold().translate(_TWO_LETTERS))] = None
    made: list[Entry] = []
    for spelling in spellings:
        # Most entries are one word, and need not be spaced letter by letter.
        words = (spelling,) if spelling.replace("*", "").isalnum() else _spaced(spelling).split()
        tokens = tuple(_token(each) for each in words if each.strip("*"))
        if tokens:
            made.append(Entry(group, shown, tokens))
    return tuple(made)


def _spaced(spelling: str) -> str:
    return "".join(char if char.isalnum() or char == "*" else " " for char in spelling)


def _token(word: str) -> Token:
    letters = word.strip("*")
    if word.startswith("*") and word.endswith("*"):
        return "any", letters
    if word.startswith("*"):
        return "end", letters
    return ("start" if word.endswith("*") else "whole"), letters


def vocabulary_of(entries: Iterable[Entry]) -> Vocabulary:
    """Entries sorted by how they are looked up."""
    whole: dict[str, list[Entry]] = {}
    parts: list[Entry] = []
    phrases: list[Entry] = []
    for entry in entries:
        if len(entry.tokens) > 1:
            phrases.append(entry)
            continue
        kind, letters = next(iter(entry.tokens))
        if kind == "whole":
            whole.setdefault(letters, []).append(entry)
        else:
            parts.append(entry)
    phrases.sort(key=lambda entry: -len(entry.tokens))
    return Vocabulary({key: tuple(found) for key, found in whole.items()}, tuple(parts), tuple(phrases))


@functools.cache
def _table() -> dict[str, dict[str, list[str]]]:
    source = resources.files("takeoff").joinpath("data", "layer_words.toml")
    return tomllib.loads(source.read_text(encoding="utf-8"))


@functools.cache
def built_in(groups: tuple[str, ...]) -> Vocabulary:
    """The program's own words of these groups."""
    table = _table()
    return vocabulary_of(
        entry
        for group in groups
        for words in table[group].values()
        for word in words
        for entry in parse_entry(group, word)
    )


def _fits(token: Token, word: str) -> bool:
    kind, letters = token
    if kind == "whole":
        return word == letters
    if kind == "start":
        return word.startswith(letters)
    if kind == "end":
        return word.endswith(letters)
    return letters in word


def find_words(text: str, vocabulary: Vocabulary) -> tuple[WordFound, ...]:
    """The words of the trade in a name, in the order in which they stand there.

    An entry of several words claims them: nothing shorter is found inside it.
    """
    words = words_of(text)
    found = _phrases_in(words, vocabulary.phrases)
    claimed = {index for each in found for index in range(each.start, each.end)}
    for index, word in enumerate(words):
        if index not in claimed:
            found.extend(
                WordFound(entry.group, entry.word, index, index + 1) for entry in _entries_for(word, vocabulary)
            )
    return tuple(sorted(dict.fromkeys(found), key=lambda each: each.start))


def _entries_for(word: str, vocabulary: Vocabulary) -> Iterable[Entry]:
    yield from vocabulary.whole.get(word, ())
    for entry in vocabulary.parts:
        if _fits(entry.tokens[0], word):
            yield entry


def _phrases_in(words: Sequence[str], phrases: Iterable[Entry]) -> list[WordFound]:
    found: list[WordFound] = []
    for entry in phrases:
        length = len(entry.tokens)
        for start in range(len(words) - length + 1):
            span = (start, start + length)
            if not all(_fits(token, words[start + place]) for place, token in enumerate(entry.tokens)):
                continue
            # Phrases come longest first: a shorter one that overlaps is a part of what was found already.
            if all(span == (each.start, each.end) or span[1] <= each.start or each.end <= span[0] for each in found):
                found.append(WordFound(entry.group, entry.word, *span))
    return found


@functools.lru_cache(maxsize=8192)
def built_in_words(text: str, groups: tuple[str, ...]) -> tuple[WordFound, ...]:
    """The program's own words of these groups in a name."""
    return find_words(text, built_in(groups))


@functools.lru_cache(maxsize=64)
def job_vocabulary(words: tuple[tuple[str, str], ...]) -> Vocabulary:
    """A vocabulary from pairs of (group, word)."""
    return vocabulary_of(entry for group, word in words for entry in parse_entry(group, word))
