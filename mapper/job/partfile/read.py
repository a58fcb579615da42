"""Read a part file: decode, parse, hold it against the table of keys, gather every mistake."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any

from mapper.job.partfile.check import Notes, checked
from mapper.job.partfile.filling import fill_in
from mapper.job.partfile.mistakes import Mistake, PartFileError
from mapper.job.partfile.rules import check_rules
from mapper.job.partfile.scan import key_lines
from mapper.job.partfile.spec import PartSpec, SectionSpec, spec_from
from mapper.job.partfile.syntax import parsed
from meshes.coordfile import read_coordinates
from meshes.errors import ShapeError

LARGEST = 1_000_000  # bytes; a thorough wing has twenty thousand
_LEANS = re.compile(r"^\s*(sections_from|part_file|attachment\.part_file)\s*=", re.MULTILINE)
_BINARY = frozenset(range(32)) - {9, 10, 12, 13}


def read(source: str | FilePath) -> PartSpec:
    """The checked content of a part file: a path is read as a file, a str as the text itself.

    Files named inside are looked for beside the file (for a text, in the current folder).
    PartFileError holds every mistake at once; a mistake of TOML's own syntax comes alone.
    """
    if isinstance(source, FilePath):
        return read_text(file_text(source), folder=source.parent, source=str(source))
    return read_text(source)


def file_text(path: FilePath, what: str = "a part file") -> str:
    """The text of a UTF-8 file, with or without a mark, any line ends; else PartFileError."""

    def refuse(given: str, allowed: str, to_do: str = "") -> PartFileError:
        return PartFileError([Mistake(0, "", given, allowed, to_do)], str(path))

    try:
        if path.is_dir():
            raise refuse("it is a folder;", f"{what} (.toml) is needed.", "Name the file in it.")
        size = path.stat().st_size
        if size > LARGEST:
            raise refuse(
                f"it has {size:,} bytes;", f"{LARGEST:,} are allowed.", "Is it the right file?"
            )
        if not path.is_file():
            raise refuse("it is not an ordinary file;", f"{what} is needed.")
        data = path.read_bytes()
    except FileNotFoundError:
        raise refuse(
            "there is no such file;",
            f"{what} is needed.",
            "Check the name." + ("" if path.suffix else " A part's tag code is no file of it."),
        ) from None
    except PermissionError:
        raise refuse(
            "it may not be read;", "a readable file is needed.", "Ask its owner."
        ) from None
    except (OSError, ValueError) as error:
        raise refuse(f"it cannot be read ({error});", f"{what} is needed.") from None
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise refuse("it is UTF-16;", "UTF-8 is allowed.", "Save it again as UTF-8.")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if _BINARY & set(data):
            raise refuse(
                "it is not a text;", f"{what} is needed.", "Is it the right file?"
            ) from None
        line = data[: error.start].count(b"\n") + 1
        raise PartFileError(
            [
                Mistake(
                    line,
                    "",
                    "a letter is not UTF-8;",
                    "UTF-8 is allowed.",
                    "Save it again as UTF-8.",
                )
            ],
            str(path),
        ) from None
    if _BINARY & {ord(c) for c in set(text)}:
        raise refuse("it is not a text;", f"{what} is needed.", "Is it the right file?")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def read_text(text: str, folder: FilePath | None = None, source: str = "") -> PartSpec:
    """The checked content of a part file's text; PartFileError with every mistake at once."""
    folder = folder or FilePath()
    text = text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    if not text.strip():
        raise PartFileError(
            [
                Mistake(
                    0, "", "it is empty;", "a part file is needed.", "`mapper example` shows one."
                )
            ],
            source,
        )
    data = parsed(text, source)
    lines = key_lines(text)
    notes = Notes(lines)
    values = checked(data, notes)
    if "shape" in data and "shape" not in values:
        raise PartFileError(notes.mistakes, source)
    parent = _parent(values, notes, folder)
    if parent is not None and values.get("sections_from"):
        values = values | {"section": _borrowed(values, parent)}
        values.setdefault("stations", {}).setdefault("datum", parent.datum)
    ordinates = _ordinates(values, notes, folder)
    fill_in(values, notes)
    check_rules(values, notes)
    if notes.mistakes:
        raise PartFileError(notes.mistakes, source)
    if parent is not None and values.get("sections_from"):
        values = {k: v for k, v in values.items() if k != "section"}
    spec = spec_from(
        values,
        warnings=tuple(sorted(notes.warnings, key=lambda w: w.line)),
        lines=lines,
        source=source,
        folder=folder,
        parent=parent,
    )
    if parent is not None and spec.sections_from:
        sections = tuple(replace(s, path=("sections_from",)) for s in parent.section)
        return replace(spec, section=sections, trailing_edge=parent.trailing_edge)
    return replace(spec, section=_filled(spec.section, ordinates))


def _borrowed(values: Mapping[str, Any], parent: PartSpec) -> tuple[dict[str, Any], ...]:
    """Rows for the rules to check places against; own sections are kept to be told of."""
    own = tuple(values.get("section", ()))
    return own or tuple(
        {"path": ("sections_from",), "borrowed": True, "station": s.station, "chord": s.chord}
        for s in parent.section
    )


def _filled(
    sections: tuple[SectionSpec, ...], ordinates: Mapping[int, tuple[str, str]]
) -> tuple[SectionSpec, ...]:
    """Every section with a profile: its own, or that of the section before it."""
    filled: list[SectionSpec] = []
    for i, section in enumerate(sections):
        if i in ordinates:
            section = replace(section, ordinates=ordinates[i][1])
        elif not section.profile and filled:
            last = filled[-1]
            section = replace(
                section,
                profile=last.profile,
                coordinates=last.coordinates,
                ordinates=last.ordinates,
            )
        filled.append(section)
    return tuple(filled)


def _ordinates(
    values: Mapping[str, Any], notes: Notes, folder: FilePath
) -> dict[int, tuple[str, str]]:
    """(name, text) of the coordinates file of each section that names one."""
    found: dict[int, tuple[str, str]] = {}
    for i, row in enumerate(values.get("section", ())):
        name = row.get("coordinates")
        if name is None:
            continue
        path = (*row["path"], "coordinates")
        text = _beside(notes, path, folder, name, "a file of two columns")
        if text is None:
            continue
        try:
            read_coordinates(text)
        except ShapeError as error:
            notes.mistake(path, f'"{name}": {error.given}', error.allowed, error.to_do)
        else:
            found[i] = (name, text)
    return found


def _beside(
    notes: Notes, path: tuple[str | int, ...], folder: FilePath, name: str, what: str
) -> str | None:
    """Text of a file named in the part file; None with the mistake noted."""
    try:
        return file_text(folder / name, what)
    except PartFileError as error:
        first = error.mistakes[0]
        notes.mistake(path, f'"{name}": {first.given}', first.allowed,
                      "It is looked for beside the part file.")  # fmt: skip
        return None


def _parent(values: Mapping[str, Any], notes: Notes, folder: FilePath) -> PartSpec | None:
    """The part file that this one leans on, read; None where there is none or it has mistakes."""
    named = [
        (("sections_from",), values.get("sections_from")),
        (("attachment", "part_file"), (values.get("attachment") or {}).get("part_file")),
    ]
    parent: PartSpec | None = None
    for path, name in named:
        if not name:
            continue
        text = _beside(notes, path, folder, name, "a part file")
        if text is None:
            continue
        whole = folder / name
        if _LEANS.search(text):
            # One step only, so that two files that name each other cannot go round for ever.
            notes.mistake(
                path, f'"{name}" leans on another part file itself;',
                "a file that stands alone is allowed.", "Name the first one.",
            )  # fmt: skip
            continue
        try:
            read_one = read_text(text, folder=whole.parent, source=str(whole))
        except PartFileError as error:
            notes.mistake(
                path,
                f'"{name}" has {len(error.mistakes)} mistakes of its own, the first:'
                f" {error.mistakes[0].text()}",
                "",
                "Mend that file first.",
            )
            continue
        if path == ("sections_from",) and read_one.shape != "loft":
            notes.mistake(path, f'"{name}" is a {read_one.shape};', "a loft is allowed.")
            continue
        parent = parent or read_one
    return parent
