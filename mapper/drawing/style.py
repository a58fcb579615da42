"""Reads the one file of looks (style.json) into frozen tokens that every pen shares."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from mapper.errors import MapperError

STYLE_FILE = Path(__file__).with_name("style.json")
STYLE_FORMAT = "airframe map style 1"
MARKS = ("ring", "dot", "cross", "square", "diamond", "triangle")
_COLOUR = re.compile(r"#[0-9a-f]{6}\Z")


@dataclass(frozen=True)
class Family:
    """Parallel hatch lines: angle in degrees as seen on the drawing, the rest mm on paper.

    dash: mark, gap, mark, gap ... along the line, () for full lines. shift: the whole family moved
    sideways, so that two families make pairs of lines.
    """

    angle: float
    gap: float
    width: float
    dash: tuple[float, ...] = ()
    shift: float = 0.0


@dataclass(frozen=True)
class Token:
    """How one thing looks: line and its width (mm on paper), dash, fill, hatch, point mark."""

    name: str
    line: str = "#111111"
    width: float = 0.25
    dash: tuple[float, ...] = ()
    fill: str = ""
    opacity: float = 1.0
    hatch: tuple[Family, ...] = ()
    mark: str = "ring"


@dataclass(frozen=True)
class Style:
    """All tokens, text sizes and distances of a drawing (mm on paper)."""

    tokens: Mapping[str, Token]
    text: Mapping[str, float]
    layout: Mapping[str, Any]
    family: str
    regular: str
    bold: str

    def token(self, name: str) -> Token:
        """The token of that name; the token "other" where there is none (a kind added later)."""
        return self.tokens.get(name, self.tokens["other"])


def _bad(given: str, allowed: str) -> MapperError:
    return MapperError(f"{STYLE_FILE.name}: {given}.", allowed, "Mend the file of looks.")


def _token(name: str, raw: Mapping[str, Any]) -> Token:
    for key in ("line", "fill"):
        if key in raw and not _COLOUR.match(raw[key]):
            raise _bad(f"token {name!r} has {key} {raw[key]!r}", "Colours are #rrggbb, lower case.")
    if raw.get("mark", "ring") not in MARKS:
        raise _bad(f"token {name!r} has mark {raw['mark']!r}", f"Marks are {', '.join(MARKS)}.")
    hatch = []
    for family in raw.get("hatch", ()):
        dash = tuple(float(v) for v in family.get("dash", ()))
        if family["gap"] <= 0 or len(dash) % 2 or any(v <= 0 for v in dash):
            raise _bad(
                f"token {name!r} has hatch {family!r}", "Gaps and dashes are above 0, in pairs."
            )
        hatch.append(
            Family(family["angle"], family["gap"], family["width"], dash, family.get("shift", 0.0))
        )
    known = {"line", "width", "dash", "fill", "opacity", "hatch", "mark"}
    if extra := set(raw) - known:
        raise _bad(f"token {name!r} has {sorted(extra)}", f"Keys are {', '.join(sorted(known))}.")
    plain = {key: raw[key] for key in ("line", "width", "fill", "opacity", "mark") if key in raw}
    return Token(name, dash=tuple(raw.get("dash", ())), hatch=tuple(hatch), **plain)


def read_style(text: str) -> Style:
    """The style in a JSON text of `style.json`'s form; MapperError naming what is wrong in it."""
    try:
        raw = json.loads(text)
    except json.JSONDecodeError as error:
        raise _bad(str(error), "It is a JSON file.") from error
    if not isinstance(raw, dict) or raw.get("format") != STYLE_FORMAT:
        raise _bad("it has another format", f'"format" is {STYLE_FORMAT!r}.')
    tokens = {name: _token(name, values) for name, values in raw["tokens"].items()}
    if "other" not in tokens:
        raise _bad("there is no token 'other'", "It is what unknown kinds are drawn with.")
    font = raw["font"]
    return Style(
        MappingProxyType(tokens),
        MappingProxyType(dict(raw["text"])),
        MappingProxyType(dict(raw["layout"])),
        font["family"],
        font["regular"],
        font["bold"],
    )


@cache
def style() -> Style:
    """The packaged style, read once."""
    return read_style(STYLE_FILE.read_text(encoding="utf-8"))
