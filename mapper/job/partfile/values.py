"""One value of a part file: what it may be, and what it is in mm, degrees and percent."""

from __future__ import annotations

import math
import re
from datetime import date, datetime
from difflib import get_close_matches
from typing import Any

from mapper.errors import MapperError
from mapper.job.check import hidden
from mapper.job.partfile.key import Key
from mapper.units import Units

INCH = 25.4
# Any size outside these is a slip; the squares of such numbers overflow, or vanish.
SMALLEST, LARGEST = 1e-6, 1e7
SCALE = {"mm": 1.0, "in": INCH}
GAUGE_NUMBER = (
    "Write the thickness itself, measured or from the drawing: a gauge number is another thickness "
    "in every metal."
)

TYPE_WORDS = {
    "text": 'a text in quotes, as "words"',
    "texts": 'texts, as ["one", "other"]',
    "choice": "one of the choices, in quotes",
    "yes/no": "true or false, without quotes",
    "date": "a date without quotes, as 2026-05-31",
    "number": "a number, as 2 or 0.5",
    "length": "a length as a number alone, as 1250 or 0.5",
    "angle": "an angle in degrees, as 2.5 or -3",
    "percent": "a number from 0 to 100, % chord",
    "point": "two lengths, as [120, 40]",
    "points": "points, as [[0, 0], [100, 0], [100, 50]]",
    "space point": "three lengths, as [0, 1200, 300]",
    "angles": "three angles in degrees, as [90, 0, 0]",
    "numbers": "three numbers, as [0, 1.2, 0.3]",
    "table": "a table, under its own [header]",
    "tables": "tables, each under its own [[header]]",
}


class Refused(Exception):
    """A value that cannot be used: given, allowed and to_do as in a Mistake."""

    def __init__(self, given: str, allowed: str, to_do: str = "") -> None:
        self.parts = (given, allowed, to_do)
        super().__init__(given)


def shown(value: object) -> str:
    """A value as the person wrote it, cut short when it is long."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, dict):
        text = "a table"
    else:
        text = str(value)
    return text if len(text) <= 48 else text[:45] + "..."


def typed_length(text: str) -> float | None:
    """mm of a length as a text in an inch file: "59 1/16", "-3/16", "4 ft 7 1/2", "6'-3", "30 mm";
    None for other text. Read as everywhere else in the program."""
    try:
        return Units("inch").parse(text, "mm")
    except MapperError:
        return None


def converted(key: Key, value: Any, units: str) -> Any:
    """The value of a key in mm or degrees; Refused where it is of another type or range."""
    reader = _READERS[key.type]
    return reader(key, value, units)


def _number(key: Key, value: Any, units: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise Refused(
            f"{shown(value)} was given;", f"{TYPE_WORDS[key.type]} is allowed.", _hint(value, units)
        )
    try:
        number = float(value)
    except OverflowError:
        raise Refused("the number is too large;", f"{TYPE_WORDS[key.type]} is allowed.") from None
    if not math.isfinite(number):
        raise Refused(f"{shown(value)} was given;", f"{TYPE_WORDS[key.type]} is allowed.")
    if number and not SMALLEST <= abs(number) <= LARGEST:
        raise Refused(
            f"{shown(value)} was given;",
            f"0, or {SMALLEST:g} to {LARGEST:g}, is allowed, and the same below zero.",
            "Check the number: no part of an aircraft is of that size.",
        )
    return number


def _hint(value: Any, units: str) -> str:
    """What helps against a text in the place of a number. units: "in" or "mm" of a length in a file
    of those, "" for what has no units of length."""
    if not isinstance(value, str):
        return ""
    if _gauge_hint(value):
        return GAUGE_NUMBER
    if not units and re.fullmatch(r"\s*-?[\d /]*\d/[\d ]*[1-9][\d ]*", value):
        number = typed_length(value)
        if number is not None:
            return f"Write a decimal number without quotes: {number / INCH:g}."
    if re.fullmatch(r"\s*-?[\d.]+\s*", value):
        return "Take the quotes away."
    if re.fullmatch(r"\s*-?\d+,\d+\s*", value):
        return "Take the quotes away and write a decimal point."
    if not units and re.match(r"\s*-?[\d.,/ ]+\s*[a-zA-Z\"'%°]", value):
        return "Write the number alone, without quotes."
    if re.match(r"\s*-?[\d.,/ ]+\s*[a-zA-Z\"'%]", value):
        return "Write the number alone: `units` at the top says the unit once for all."
    if re.fullmatch(r"\s*[\d /]+\s*", value):
        return 'Fractions are for files with units = "in"; write a decimal number.'
    return ""


def _gauge_hint(value: str) -> str:
    """What helps against the number of a gauge, as "18 ga"; "" for other text."""
    numbered = re.search(r"\d\s*(ga|gauge|swg|awg)\b", value, re.IGNORECASE)
    return GAUGE_NUMBER if numbered else ""


def _length(key: Key, value: Any, units: str) -> float:
    if isinstance(value, str) and units == "in":
        length = typed_length(value)
        if length is None:
            raise Refused(
                f"{shown(value)} was given;",
                'a length in inches is allowed, as 59.0625 or "59 1/16" or "4 ft 11 1/16".',
                _gauge_hint(value),
            )
        over = re.search(r"\d\s+(\d+)/(\d+)", value)
        if over and int(over[1]) >= int(over[2]):
            raise Refused(
                f"{shown(value)} was given;",
                "a fraction less than one is allowed after whole inches.",
                "Read the tape again.",
            )
        return _ranged(key, length, value, units)
    number = _number(key, value, units)
    return _ranged(key, number * SCALE.get(units, 1.0), value, units)


def _plain(key: Key, value: Any, units: str) -> float:
    return _ranged(key, _number(key, value, ""), value, "")


def _ranged(key: Key, number: float, value: Any, units: str) -> float:
    word = _allowed_range(key, units)
    low = key.least is not None and number < key.least
    high = key.most is not None and number > key.most
    if low or high or (key.above is not None and number <= key.above):
        raise Refused(f"{shown(value)} was given;", f"{word} is allowed.", _range_hint(key))
    return number


def _range_hint(key: Key) -> str:
    if key.type == "percent":
        return "0 is the leading edge, 100 the trailing edge."
    return "Measure it again." if key.type == "length" else ""


def _allowed_range(key: Key, units: str) -> str:
    unit = {"length": f" {units}", "percent": " % chord", "angle": " degrees"}.get(key.type, "")
    scale = SCALE.get(units, 1.0) if key.type == "length" else 1.0
    if key.above is not None:
        return f"more than {key.above / scale:g}{unit}"
    if key.least is not None and key.most is not None:
        return f"{key.least / scale:g} to {key.most / scale:g}{unit}"
    if key.least is not None:
        return f"{key.least / scale:g}{unit.rstrip()} or more"
    if key.most is not None:
        return f"{key.most / scale:g}{unit} or less"
    return TYPE_WORDS[key.type]


def allowed_words(key: Key, units: str = "") -> str:
    """What a key may hold, in words, for help and documents ("more than 0", '"mm" or "in"')."""
    if key.choices:
        return " or ".join(f'"{c}"' for c in key.choices)
    if key.above is not None or key.least is not None or key.most is not None:
        return _allowed_range(key, units).strip()
    return ""


def _text(key: Key, value: Any, units: str) -> str:
    if not isinstance(value, str):
        hint = f'Put it in quotes: "{value}".' if isinstance(value, (int, float)) else ""
        raise Refused(f"{shown(value)} was given;", f"{TYPE_WORDS['text']} is allowed.", hint)
    words = " ".join(value.split())
    sign = hidden(words)
    if sign:
        raise Refused(
            f"{shown(value)} holds a sign that nobody sees, U+{ord(sign):04X};",
            "signs that can be read are allowed.",
            "Type it again by hand.",
        )
    if key.required and not words:
        raise Refused("an empty text was given;", "a name in words is allowed.", "Write one.")
    if len(words) > 400:
        raise Refused(f"{len(words)} letters were given;", "400 are allowed.", "Shorten it.")
    return words


def _choice(key: Key, value: Any, units: str) -> str:
    if not isinstance(value, str):
        raise Refused(f"{shown(value)} was given;", f"{allowed_words(key)} is allowed.")
    if value in key.choices:
        return value
    near = closest(value, key.choices)
    to_do = f'Did you mean "{near}"?' if near else ""
    raise Refused(f"{shown(value)} was given;", f"{allowed_words(key)} is allowed.", to_do)


_OTHER_WORDS = {
    "inch": "in", "inches": "in", '"': "in", "millimetre": "mm", "millimetres": "mm",
    "millimeter": "mm", "millimeters": "mm", "wing": "loft", "tailplane": "loft", "fin": "loft",
    "spar": "spar web", "cover": "access cover", "circle": "round", "circular": "round",
    "square": "rectangle", "rectangular": "rectangle", "ellipse": "oval", "top": "upper",
    "bottom": "lower", "port": "left", "starboard": "right", "pipe": "tube", "rod": "tube",
}  # fmt: skip


def closest(word: str, allowed: tuple[str, ...]) -> str:
    """The allowed word that was most likely meant; "" when none is near."""
    plain = word.strip().lower().replace(" ", "_")
    other = _OTHER_WORDS.get(word.strip().lower(), "")
    if other in allowed:
        return other
    near = get_close_matches(plain, [a.lower() for a in allowed], n=1, cutoff=0.6)
    if near:
        return next(a for a in allowed if a.lower() == near[0])
    parts = [a for a in allowed if len(plain) > 3 and (plain in a or a in plain)]
    return parts[0] if len(parts) == 1 else ""


def _yes_no(key: Key, value: Any, units: str) -> bool:
    if not isinstance(value, bool):
        word = value.strip().lower() if isinstance(value, str) else ""
        hint = "Take the quotes away." if word in ("true", "false") else ""
        hint = {"yes": "Write true.", "no": "Write false."}.get(word, hint)
        raise Refused(f"{shown(value)} was given;", f"{TYPE_WORDS['yes/no']}, is allowed.", hint)
    return value


def _date(key: Key, value: Any, units: str) -> date:
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    raise Refused(f"{shown(value)} was given;", f"{TYPE_WORDS['date']}, is allowed.")


def _listed(key: Key, value: Any, count: int | None) -> list[Any]:
    if not isinstance(value, list) or (count is not None and len(value) != count):
        raise Refused(f"{shown(value)} was given;", f"{TYPE_WORDS[key.type]}, is allowed.")
    return value


def _texts(key: Key, value: Any, units: str) -> tuple[str, ...]:
    texts = tuple(_text(key, v, units) for v in _listed(key, value, key.count or None))
    if len(set(texts)) != len(texts) or not all(texts):
        raise Refused(f"{shown(value)} was given;", "different names are allowed.")
    return texts


def _lengths(count: int) -> Any:
    def read(key: Key, value: Any, units: str) -> tuple[float, ...]:
        return tuple(_length(key, v, units) for v in _listed(key, value, count))

    return read


def _angles(key: Key, value: Any, units: str) -> tuple[float, ...]:
    return tuple(_plain(key, v, units) for v in _listed(key, value, 3))


def _points(key: Key, value: Any, units: str) -> tuple[tuple[float, ...], ...]:
    pairs = _listed(key, value, None)
    if len(pairs) < key.count:
        raise Refused(
            f"{len(pairs)} corners were given;",
            f"{key.count} or more are allowed.",
            "Add the rest.",
        )
    return tuple(_lengths(2)(key, pair, units) for pair in pairs)


_READERS: dict[str, Any] = {
    "text": _text,
    "texts": _texts,
    "choice": _choice,
    "yes/no": _yes_no,
    "date": _date,
    "number": _plain,
    "length": _length,
    "angle": _plain,
    "percent": _plain,
    "point": _lengths(2),
    "points": _points,
    "space point": _lengths(3),
    "angles": _angles,
    "numbers": _angles,
}
