"""A part file's data against the table of keys: every mistake is noted, none stops the rest."""

from __future__ import annotations

from typing import Any

from mapper.job.partfile.key import SHAPES, Key
from mapper.job.partfile.keys import TOP, keys_of
from mapper.job.partfile.mistakes import Mistake
from mapper.job.partfile.scan import Lines, Path
from mapper.job.partfile.values import SCALE, TYPE_WORDS, Refused, closest, converted, shown


class Notes:
    """Mistakes and warnings as they are found, with the line of each path looked up."""

    def __init__(self, lines: Lines) -> None:
        self.lines = lines
        self.mistakes: list[Mistake] = []
        self.warnings: list[Mistake] = []
        self.spoilt: set[Path] = set()

    def mistake(self, path: Path, given: str, allowed: str = "", to_do: str = "") -> None:
        """Note a mistake at a path of the data; a second one at the same path is kept too."""
        self.spoilt.add(path)
        self.mistakes.append(Mistake(self.lines.of(path), in_words(path), given, allowed, to_do))

    def warn(self, path: Path, given: str, allowed: str = "", to_do: str = "") -> None:
        """Note something that can be used but looks wrong."""
        self.warnings.append(Mistake(self.lines.of(path), in_words(path), given, allowed, to_do))

    def only(self, *paths: Path) -> None:
        """Forget every mistake but those at these paths."""
        keys = [in_words(path) for path in paths]
        self.mistakes = [m for m in self.mistakes if m.key in keys]

    def bad(self, *paths: Path) -> bool:
        """Whether any of these paths holds a mistake already; then nothing more is said of it."""
        return any(path in self.spoilt for path in paths)


def in_words(path: Path) -> str:
    """A path as a person says it: ("section", 2, "chord") is "section 3, chord"."""
    words: list[str] = []
    for step in path:
        if isinstance(step, int):
            words[-1] += f" {step + 1}"
        else:
            words.append(step)
    return ", ".join(words)


def checked(data: dict[str, Any], notes: Notes) -> dict[str, Any]:
    """The data with every length in mm, and only what can be used; the rest is noted."""
    # As text, whatever stands there: a list in their place is a mistake that is told of later.
    units, shape = str(data.get("units")), str(data.get("shape"))
    # What was most likely meant serves to read the rest: a slip in these two words would else be
    # told as twenty mistakes.
    units = units if units in SCALE else closest(units, tuple(SCALE))
    shape = shape if shape in SHAPES else closest(shape, tuple(SHAPES))
    walker = _Walker(notes, units, shape)
    out = walker.table(data, keys_of(shape), ())
    if "shape" in data and not shape:
        # Nothing can be said of the rest: it would be held against the keys of every shape.
        notes.only(("shape",), ("units",))
    return out | ({"units": units} if units else {}) | ({"shape": shape} if shape else {})


class _Walker:
    def __init__(self, notes: Notes, units: str, shape: str) -> None:
        self.notes = notes
        self.units = units
        self.shape = shape

    def table(self, data: dict[str, Any], keys: tuple[Key, ...], path: Path) -> dict[str, Any]:
        known = {key.name: key for key in keys}
        out: dict[str, Any] = {}
        for name, value in data.items():
            key = known.get(name)
            if key is None:
                self.unknown(name, value, keys, path)
            else:
                self.entry(key, value, (*path, name), out)
        for key in keys:
            if key.required and key.name not in data:
                self.missing(key, path)
        return out

    def entry(self, key: Key, value: Any, path: Path, out: dict[str, Any]) -> None:
        if key.type == "table":
            if isinstance(value, dict):
                out[key.name] = self.table(value, self.inner(key), path)
            else:
                self.wrong_table(key, value, path)
            return
        if key.type == "tables":
            if isinstance(value, list) and all(isinstance(v, dict) for v in value):
                out[key.name] = tuple(
                    self.table(v, self.inner(key), (*path, i)) | {"path": (*path, i)}
                    for i, v in enumerate(value)
                )
            else:
                self.wrong_table(key, value, path)
            return
        try:
            found = out[key.name] = converted(key, value, self.units)
        except Refused as refused:
            self.notes.mistake(path, *refused.parts)
            return
        if key.type == "percent" and 0 < found < 1:
            self.notes.warn(
                path,
                f"{shown(value)} was given;",
                f"that is {shown(value)} % chord: 0 is the leading edge, 100 the trailing edge.",
                f"If it is a share of the chord, write {100 * found:g}.",
            )

    def inner(self, key: Key) -> tuple[Key, ...]:
        return tuple(k for k in key.of if k.fits(self.shape))

    def wrong_table(self, key: Key, value: Any, path: Path) -> None:
        header = f"[{key.name}]" if key.type == "table" else f"[[{key.name}]]"
        if isinstance(value, dict):
            given, to_do = f"[{key.name}] with single brackets was given;", "Double the brackets."
        elif isinstance(value, list):
            given, to_do = f"a list or [[{key.name}]] was given;", "Use single brackets, once."
        else:
            given, to_do = (
                f"{shown(value)} was given;",
                f"Write a line {header}, its keys below it.",
            )
        self.notes.mistake(path, given, f"{TYPE_WORDS[key.type]}, is allowed.", to_do)

    def missing(self, key: Key, path: Path) -> None:
        here = in_words(path) if path else "the top of the file"
        kind = f"[{key.name}]" if key.type == "table" else TYPE_WORDS[key.type]
        if key.choices:
            kind = " or ".join(f'"{c}"' for c in key.choices)
        self.notes.mistake((*path, key.name), f"it is missing in {here};", f"{kind} is needed:",
                           f"{key.help}.")  # fmt: skip

    def unknown(self, name: str, value: Any, keys: tuple[Key, ...], path: Path) -> None:
        here = _header(path) if path else "the top of the file"
        given = f"there is no such key in {here};"
        names = tuple(k.name for k in keys)
        near = closest(name, names)
        elsewhere = _homes(name, self.shape)
        others = (
            tuple(s for s in SHAPES if any(k.name == name for k in keys_of(s))) if not path else ()
        )
        if path and any(k.name == name for k in keys_of(self.shape)):
            allowed = "it belongs at the top of the file."
            to_do = "Move it above the first [header]: a key belongs to the header above it."
        elif elsewhere:
            allowed, to_do = f"it belongs in {elsewhere}.", "Move it there."
        elif others:
            allowed = f"a {self.shape} has none; it is for {', '.join(others)}."
            to_do = "Take it out, or change `shape`."
        elif near:
            allowed, to_do = f'"{near}" is.', f"Did you mean {near}?"
        else:
            allowed = f"allowed are {', '.join(names)}." if len(names) < 14 else ""
            to_do = f'`mapper keys "{self.shape}"` lists all keys.' if self.shape else ""
        self.notes.mistake((*path, name), given, allowed, to_do)


def _header(path: Path) -> str:
    """The header a path lies under, as written: [measured], [[rib]] lightening_hole."""
    first = f"[[{path[0]}]]" if len(path) > 1 and isinstance(path[1], int) else f"[{path[0]}]"
    return " ".join([first, *(str(p) for p in path[1:] if isinstance(p, str))])


def _homes(name: str, shape: str) -> str:
    """The tables of this shape that have a key of this name, as headers in words."""
    homes = [
        f"[{key.name}]" if key.type == "table" else f"[[{key.name}]]"
        for key in (keys_of(shape) if shape else TOP)
        if any(k.name == name and k.fits(shape) for k in key.of)
    ]
    return " or ".join(dict.fromkeys(homes)) if len(homes) <= 3 else ""
