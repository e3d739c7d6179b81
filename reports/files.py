"""Result folders written whole or not at all: into a temporary folder beside the target, then renamed."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from reports.takeoff_json import OPENING_LINES, json_head, json_tail, json_walls
from takeoff.columns import column_texts, csv_head, csv_rows
from takeoff.errors import TakeoffError
from takeoff.result import Takeoff
from takeoff.shares import in_shares
from takeoff.tables import FINDINGS, TABLES

JSON_NAME = "takeoff.json"
PAGE_NAME = "takeoff.html"
FILE_NAMES = (*(f"{table.name}.csv" for table in TABLES), JSON_NAME, PAGE_NAME)
"""Every file that a result folder holds; the page may be left out."""

WALLS_AT_ONCE = 30
"""Walls that are turned into text together: a large model is written in parts, or its texts would fill the memory."""


@dataclass(frozen=True, slots=True)
class FolderKind:
    """A kind of folder that this program writes: what may stand in it, and how one of ours is known."""

    names: frozenset[str]
    is_ours: Callable[[Path], bool]


class OutputError(TakeoffError):
    """The result could not be written; nothing was left half-written."""


def result_texts(takeoff: Takeoff, *, page: bool = True) -> dict[str, str]:
    """File name to text for a whole result folder, with or without the page. Same takeoff, same bytes."""
    texts = dict(result_heads(takeoff))
    for number, part in enumerate(takeoff.parts(WALLS_AT_ONCE)):
        for name, text in part_texts(part, first=number == 0).items():
            texts[name] += text
    texts[JSON_NAME] += json_tail(takeoff)
    if page:
        texts[PAGE_NAME] = _page(takeoff, texts[JSON_NAME])
    return texts


def result_heads(takeoff: Takeoff) -> dict[str, str]:
    """How each file begins, before its first wall."""
    heads = {f"{table.name}.csv": csv_head(table) for table in TABLES}
    findings = csv_rows(column_texts(FINDINGS, takeoff.findings))
    heads[f"{FINDINGS.name}.csv"] += findings
    return {**heads, JSON_NAME: json_head(takeoff)}


def part_texts(part: Takeoff, *, first: bool) -> dict[str, str]:
    """What a part of the takeoff adds to each file. first: whether it holds the first wall."""
    tables = part.tables()
    texts = {f"{name}.csv": csv_rows(filled.columns) for name, filled in tables.items()}
    return {**texts, JSON_NAME: ("" if first else ",\n") + ",\n".join(json_walls(part, tables))}


def write_results(takeoff: Takeoff, folder: Path, *, page: bool = True, processes: int = 1) -> tuple[Path, ...]:
    """Writes all result files, with or without the page, and returns their paths.

    A folder of ours from an earlier run is replaced; a folder that holds anything else is refused. processes: among
    how many the writing is shared out. Raises OutputError.
    """
    check_target(folder)
    parts = takeoff.parts(WALLS_AT_ONCE)
    with new_folder(folder) as draft:

        def write_piece(number: int) -> None:
            # What begins and ends the files is of the whole model: it takes longest, so it comes first.
            if number == 0:
                _write_pieces(draft, "head", result_heads(takeoff))
                _write_pieces(draft, "tail", {JSON_NAME: json_tail(takeoff)})
            else:
                _write_pieces(draft, str(number), part_texts(parts[number - 1], first=number == 1))

        in_shares(write_piece, len(parts) + 1, processes, least=2)
        order = ("head", *map(str, range(1, len(parts) + 1)), "tail")
        for name in [path.name.removeprefix("head-") for path in draft.glob("head-*")]:
            _put_together(draft, name, order)
        if page:
            document = (draft / JSON_NAME).read_text(encoding="utf-8")
            (draft / PAGE_NAME).write_bytes(_bytes(_page(takeoff, document)))
    return tuple(folder / name for name in FILE_NAMES if page or name != PAGE_NAME)


def _page(takeoff: Takeoff, document: str) -> str:
    # Only here: a run without a page loads nothing of it.
    from reports.page_file import page_html

    return page_html(takeoff, json.loads(document))


def _write_pieces(draft: Path, place: str, texts: Mapping[str, str]) -> None:
    for name, text in texts.items():
        (draft / f"{place}-{name}").write_bytes(_bytes(text))


def _put_together(draft: Path, name: str, order: Sequence[str]) -> None:
    """Makes a file of its pieces, which are removed."""
    with (draft / name).open("wb") as file:
        for piece in (draft / f"{place}-{name}" for place in order):
            if piece.exists():
                with piece.open("rb") as content:
                    shutil.copyfileobj(content, file)
                piece.unlink()


def begins_with(path: Path, opening: str) -> bool:
    """True where there is a file that begins with these words, as every file of its kind by this program does."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        return file.read(len(opening.encode())) == opening.encode()


RESULTS = FolderKind(frozenset(FILE_NAMES), lambda folder: begins_with(folder / JSON_NAME, OPENING_LINES))
"""The folder of `bayfill takeoff`."""


def check_target(folder: Path, kind: FolderKind = RESULTS) -> None:
    """Raises OutputError where the folder cannot become one of that kind: call it before the work begins."""
    if _holds_this_folder(folder):
        raise OutputError(f"{folder} is, or holds, the folder that you stand in, and would be replaced: name one in it")
    if folder.is_symlink() and not folder.exists():
        raise OutputError(f"{folder} is a link to nothing: choose another folder with --out")
    if not folder.exists():
        parent = _nearest_folder(folder)
        if not parent.is_dir():
            raise OutputError(f"{parent} is a file, so no folder can be made in it: choose another with --out")
        if not os.access(parent, os.W_OK):
            raise OutputError(f"there is no right to write in {parent}: choose another folder with --out")
        return
    if not folder.is_dir():
        raise OutputError(f"{folder} is a file, not a folder: choose another with --out")
    names = sorted(entry.name for entry in folder.iterdir())
    foreign = [name for name in names if name not in kind.names]
    if names and not foreign and not kind.is_ours(folder):
        foreign = names
    if foreign:
        raise OutputError(f"{folder} holds other files ({_few(foreign)}): choose an empty or new folder with --out")
    if not os.access(folder.resolve().parent, os.W_OK):
        raise OutputError(f"there is no right to replace {folder}: choose another folder with --out")


def _holds_this_folder(folder: Path) -> bool:
    try:
        here = Path.cwd()
    except FileNotFoundError:
        raise OutputError("the folder that you stand in is gone: change to another and start again") from None
    return here.is_relative_to(folder.resolve())


def check_new(path: Path) -> None:
    """Raises OutputError where something stands in a file's place: a corrected job file, or the model, is not replaced.

    Call it before the work begins.
    """
    if path.is_symlink() or path.exists():
        raise OutputError(f"{path} is there already and is not replaced: name a new file, or remove that one first")


def write_folder(folder: Path, files: Mapping[str, str | bytes]) -> None:
    """Writes files by their path in a folder, texts as UTF-8; it stands at its place only when all are on the disk."""
    with new_folder(folder) as draft:
        for name, content in files.items():
            (draft / name).parent.mkdir(parents=True, exist_ok=True)
            (draft / name).write_bytes(content if isinstance(content, bytes) else _bytes(content))


@contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """An empty folder to be filled, which takes the place of `folder` at the end, unless something goes wrong."""
    target = folder.resolve()
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with _folder_beside(target) as draft:
            yield draft
            draft.chmod(0o777 & ~_umask())
            _swap(draft, target)
    except OSError as error:
        raise OutputError(f"the result could not be written to {folder}: {error.strerror or error}") from error


def _bytes(text: str) -> bytes:
    """UTF-8; half a letter, which a broken name can hold, as a question mark."""
    return text.encode("utf-8", "replace")


def write_text(path: Path, text: str) -> None:
    """Writes one file whole or not at all. Raises OutputError."""
    write_bytes(path, _bytes(text))


def write_bytes(path: Path, content: bytes) -> None:
    """Writes one file whole or not at all. Raises OutputError."""
    target = path.resolve()
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}-")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            Path(name).chmod(0o666 & ~_umask())
            Path(name).replace(target)
        finally:
            Path(name).unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(f"{path} could not be written: {error.strerror or error}") from error


@contextmanager
def _folder_beside(target: Path) -> Iterator[Path]:
    """A temporary folder on the same file system as the target, gone at the end whatever happens."""
    draft = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{target.name}-"))
    try:
        yield draft
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _swap(draft: Path, target: Path) -> None:
    """Puts the draft at the target's place; an older result stands aside until the new one is there."""
    if not target.exists():
        draft.rename(target)
        return
    with _folder_beside(target) as aside:
        old = aside / "old"
        target.rename(old)
        try:
            draft.rename(target)
        finally:
            if not target.exists():
                old.rename(target)


def _nearest_folder(path: Path) -> Path:
    """The closest ancestor that exists."""
    return next(parent for parent in path.absolute().parents if parent.exists())


def _umask() -> int:
    """What the user's settings withhold from new files: temporary files are made private, results are not."""
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _few(names: list[str]) -> str:
    return ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")
