"""Open a model file that nobody vouches for: bounded, whole, of a known schema."""

from __future__ import annotations

import os
import re
import tempfile
import zipfile
from pathlib import Path
from typing import Any

import ifcopenshell

from takeoff.errors import ReadingError

MAX_FILE_BYTES = 2 * 1024**3
"""Bound on the text of one model; a house takes a few MB, a large hospital a few hundred."""
MAX_ZIP_MEMBERS = 100
"""An .ifczip holds one model, at times with a few textures beside it."""
HEAD_BYTES = 64 * 1024
TAIL_BYTES = 64 * 1024
COPY_BYTES = 1024 * 1024
KNOWN_SCHEMAS = ("IFC2X3", "IFC4", "IFC4X3_ADD2")
"""As the parser calls them."""
SAME_SCHEMA = {
    "IFC2X3_FINAL": "IFC2X3",
    "IFC2X3_TC1": "IFC2X3",
    "IFC4_ADD1": "IFC4",
    "IFC4_ADD2": "IFC4",
    "IFC4_ADD2_TC1": "IFC4",
    "IFC4X3": "IFC4X3_ADD2",
    "IFC4X3_TC1": "IFC4X3_ADD2",
    "IFC4X3_ADD1": "IFC4X3_ADD2",
}
"""Names that exporters write for an addendum or corrigendum; what is read here is the same in the known one."""

_SCHEMA = re.compile(rb"FILE_SCHEMA\s*\(\s*\(\s*'([^']*)'", re.IGNORECASE)
_STATEMENT = re.compile(rb"(?:^|;)\s*#(\d+)\s*=\s*([A-Za-z0-9_]+)", re.MULTILINE)


def open_model_file(path: str | os.PathLike[str], max_bytes: int = MAX_FILE_BYTES) -> tuple[Any, tuple[str, ...]]:
    """Open an .ifc or .ifczip file.

    Returns the opened file and the faults that the parser noted and passed over (one text each, the first few).
    Raises ReadingError when it is missing, a folder, empty, too large, cut short, no IFC or of an unknown schema.
    """
    file_path = Path(path)
    _check_there(file_path, max_bytes)
    if zipfile.is_zipfile(file_path):
        with tempfile.TemporaryDirectory(prefix="bayfill-") as folder:
            unpacked = Path(folder) / "model.ifc"
            _unpack(file_path, unpacked, max_bytes)
            return _open_text(unpacked, str(path))
    return _open_text(file_path, str(path))


def _check_there(path: Path, max_bytes: int) -> None:
    shown = str(path)
    if path.is_dir():
        raise ReadingError(shown, "this is a folder, not a model file", "name the .ifc or .ifczip file in it")
    if not path.exists():
        raise ReadingError(shown, "there is no such file", "check the path")
    if not path.is_file():
        raise ReadingError(shown, "this is not an ordinary file", "name an .ifc or .ifczip file")
    try:
        size = path.stat().st_size
        with path.open("rb"):
            pass
    except OSError as error:
        raise ReadingError(shown, f"the file cannot be opened ({error.strerror})", "check the rights on it") from error
    if size == 0:
        raise ReadingError(shown, "the file is empty", "export the model again")
    if size > max_bytes:
        raise ReadingError(
            shown,
            f"the file has {size / 1e6:.0f} MB, more than the {max_bytes / 1e6:.0f} MB that are read",
            "export only the walls, openings, rooms and framing",
        )


def _unpack(archive: Path, target: Path, max_bytes: int) -> None:
    """Copy the one model of a zip into `target`; names inside the zip are never used as paths."""
    shown = str(archive)
    try:
        with zipfile.ZipFile(archive) as packed:
            members = packed.infolist()
            if len(members) > MAX_ZIP_MEMBERS:
                raise ReadingError(
                    shown, f"the zip holds {len(members)} files", "pack one .ifc file alone into the .ifczip"
                )
            models = [member for member in members if member.filename.lower().endswith(".ifc") and not member.is_dir()]
            if len(models) != 1:
                raise ReadingError(
                    shown, f"the zip holds {len(models)} .ifc files", "pack one .ifc file alone into the .ifczip"
                )
            if models[0].flag_bits & 0x1:
                raise ReadingError(shown, "the zip is encrypted", "pack the .ifc file without a password")
            _copy_bounded(packed, models[0], target, max_bytes, shown)
    except (zipfile.BadZipFile, EOFError, NotImplementedError, OSError, RuntimeError) as error:
        raise ReadingError(shown, f"the zip is damaged ({error})", "pack the .ifc file again") from error


def _copy_bounded(packed: zipfile.ZipFile, member: zipfile.ZipInfo, target: Path, max_bytes: int, shown: str) -> None:
    # The size that a zip declares can lie, so the bytes are counted as they come out.
    written = 0
    with packed.open(member) as source, target.open("wb") as sink:
        while block := source.read(COPY_BYTES):
            written += len(block)
            if written > max_bytes:
                raise ReadingError(
                    shown,
                    f"the model inside the zip unpacks to more than {max_bytes / 1e6:.0f} MB",
                    "export only the walls, openings, rooms and framing",
                )
            sink.write(block)


def _open_text(path: Path, shown: str) -> tuple[Any, tuple[str, ...]]:
    head, tail = _ends(path)
    schema = _checked_schema(head, shown)
    if b"END-ISO-10303-21" not in tail.upper():
        raise ReadingError(
            shown, "the file is cut short: its last line (END-ISO-10303-21) is missing", "copy or export it again"
        )
    before = ifcopenshell.get_log()
    try:
        file = _parsed(path, schema)
    except (ifcopenshell.Error, OSError, RuntimeError, UnicodeError) as error:
        raise ReadingError(
            shown, f"the file cannot be parsed ({_syntax_fault(error, before, path)})", "export the model again"
        ) from error
    _check_read_to_the_end(file, path, tail, shown)
    return file, _faults_of_log(before)


def _parsed(path: Path, schema: str) -> Any:
    """The parsed file; where its header calls the schema otherwise than the parser does, from a copy that does not."""
    if schema in KNOWN_SCHEMAS:
        return ifcopenshell.open(str(path))
    with tempfile.TemporaryDirectory(prefix="bayfill-") as folder:
        copy = Path(folder) / "model.ifc"
        content = path.read_bytes()
        found = _SCHEMA.search(content)
        assert found is not None  # The head was checked.
        copy.write_bytes(content[: found.start(1)] + SAME_SCHEMA[schema].encode() + content[found.end(1) :])
        return ifcopenshell.open(str(copy))


def _syntax_fault(error: Exception, log_before: str, path: Path) -> str:
    """The most telling word on a syntax error: a string that does not end, what the parser noted, what it raised."""
    number = _unended_string(path)
    if number is not None:
        return f"the text in line #{number} does not end"
    noted = _faults_of_log(log_before)
    return noted[0] if noted else (str(error).strip().splitlines() or [type(error).__name__])[0]


def _unended_string(path: Path) -> int | None:
    """Number of the first statement in which a text is still open when the next statement begins."""
    current, quotes = None, 0
    with path.open("rb") as stream:
        for line in stream:
            match = _STATEMENT.match(line)
            if match and quotes % 2 and current is not None:
                return current
            if match:
                current, quotes = int(match.group(1)), 0
            quotes += line.count(b"'")
    return None


def _ends(path: Path) -> tuple[bytes, bytes]:
    with path.open("rb") as stream:
        head = stream.read(HEAD_BYTES)
        size = stream.seek(0, os.SEEK_END)
        stream.seek(max(0, size - TAIL_BYTES))
        return head, stream.read()


def _checked_schema(head: bytes, shown: str) -> str:
    """The schema that the header names, one of those that can be read. Raises ReadingError for what is none."""
    start = head.lstrip(b"\xef\xbb\xbf \t\r\n\0")
    if start[:5].lower() in (b"<?xml", b"<ifcx", b"<ifc:"):
        raise ReadingError(shown, "this is an XML file", "export the model as .ifc (STEP text)")
    if b"ISO-10303-21" not in head[:4096].upper():
        raise ReadingError(
            shown, "this is not an IFC file: it does not begin with ISO-10303-21", "export the model as .ifc"
        )
    found = _SCHEMA.search(head)
    if not found:
        raise ReadingError(
            shown, "the header names no schema (FILE_SCHEMA)", "export the model again as IFC4 or IFC2X3"
        )
    schema = found.group(1).decode("latin-1").strip().upper()
    if schema not in KNOWN_SCHEMAS and schema not in SAME_SCHEMA:
        raise ReadingError(
            shown, f"the schema {schema[:40]!r} is not supported", "export the model as IFC2X3, IFC4 or IFC4X3"
        )
    return schema


def _check_read_to_the_end(file: Any, path: Path, tail: bytes, shown: str) -> None:
    """The parser stops without a word at a statement it cannot understand: see that the last ones are there.

    A statement of an unknown class is passed over by the parser, so one of the last hundred is enough.
    """
    last = _STATEMENT.findall(tail)[-100:]
    if not last or any(_holds(file, int(number)) for number, _ in last):
        return
    for number, name in _all_statements(path):
        if not _holds(file, number):
            raise ReadingError(
                shown,
                f"the file is broken at line #{number} ({name[:40]}): nothing behind it can be read",
                "export the model again",
            )


def _all_statements(path: Path) -> list[tuple[int, str]]:
    found = []
    with path.open("rb") as stream:
        for line in stream:
            match = _STATEMENT.match(line)
            if match:
                found.append((int(match.group(1)), match.group(2).decode("latin-1")))
    return found


def _holds(file: Any, number: int) -> bool:
    try:
        file.by_id(number)
    except RuntimeError:
        return False
    return True


def _faults_of_log(before: str) -> tuple[str, ...]:
    """Errors that the parser noted since its log was `before`."""
    log = ifcopenshell.get_log()
    new = log[len(before) :] if log.startswith(before) else log
    lines = [line for line in new.splitlines() if line.startswith("[error]")]
    return tuple(re.sub(r"^(\[[^\]]*\]\s*)+", "", line) for line in lines)
