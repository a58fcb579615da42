"""A text that is not TOML: the one mistake the reader stops at, with its line and what helps."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from mapper.job.partfile.mistakes import Mistake, PartFileError
from mapper.job.partfile.values import GAUGE_NUMBER

_AT = re.compile(r"\(at line (\d+), column \d+\)")

_DEEPEST = 20

# Of a length with its unit: what a file in inches may hold as a text would be 25 times too small in
# inches if the number were left alone.
_WITH_UNIT = "with its unit"
_IN_INCHES = 'Put a length with its unit in quotes, as "4 ft 2 1/2"; a number alone is inches.'
_IN_MM = "Write the number alone, in mm: `units` at the top says the unit once for all."
_LISTED = (
    "Every { and [ needs its } and ], and a row of a list a comma behind it: look at this line "
    "and the one before."
)
# What people write, as a pattern of the line, and what helps; the first that fits is said.
_HINTS: tuple[tuple[str, str], ...] = (
    (r"[“”„‘’«»]", 'Use straight quotes: ".'),
    (r"^[^\"'#=]*:", "Write = between a key and its value."),
    (r"^\s*[A-Za-z]\w*(?: +\w+)+\s*=", "Join the words of a key with _, as leading_edge_aft."),
    (r"=\s*[-+]?\d+,\d+\s*(#.*)?$", "Write a decimal point, not a comma."),
    (r"=\s*[-+]?\.\d", "Write a 0 before the point: 0.032, not .032."),
    (r"=\s*[-+]?\d+\.\s*(#.*)?$", "Write a digit after the point, as 25.0, or no point."),
    (r"=\s*[-+]?0\d", "Write numbers without leading zeros; profiles go in quotes: \"0012\"."),
    (r"=\s*\d{1,4}[./-]\d{1,2}[./-]\d{2,4}", "Write dates as 2026-05-31."),
    (r"=\s*\d+\s+\d+/\d+", 'Put a fraction of an inch in quotes: "59 1/16".'),
    (r"=\s*\d+/\d+", 'Put a fraction of an inch in quotes: "3/16".'),
    (r"=\s*[-+]?[\d.]+\s*%", "Write percent as the number alone."),
    (r"=\s*[-+]?[\d.]+\s*(deg\w*|°)", "Write degrees as the number alone."),
    (r"=\s*[\d.]+\s*(ga|gauge|swg|awg)\b", GAUGE_NUMBER),
    (r"=\s*[-+]?[\d.]+\s*(mm|cm|m|in|inch|inches|ft|foot|feet)\b", _WITH_UNIT),
    (r"=\s*[-+]?[\d.]+\s*['\"′″]", _WITH_UNIT),
    (r"=\s*(yes|no|True|False|YES|NO|on|off)\s*([,}\]].*|#.*)?$", "Write true or false."),
    (r"^\s*\[\[[^\]]*\]\s*(#.*)?$", "Close a header that opens with [[ by ]]."),
    (r"=\s*(#.*)?$", "Write a value after =."),
    (r"=\s*\"[^\"]*(#.*)?$", "Close the text with a quote."),
    (r"=\s*[A-Za-z]", 'Put texts in quotes, as "tape".'),
    (r"^\s*[A-Za-z_]\w*\s+[\d\"]", "Write = between a key and its value."),
)  # fmt: skip


def parsed(text: str, source: str = "") -> dict[str, Any]:
    """The data of a TOML text; PartFileError with its first syntax mistake, line and words."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PartFileError([syntax_mistake(text, str(error))], source) from None
    except RecursionError:
        raise PartFileError([_too_deep(text)], source) from None
    except ValueError:
        raise PartFileError([_too_long(text)], source) from None


def _too_deep(text: str) -> Mistake:
    """Brackets within brackets without end, with the line where it goes beyond reason."""
    lines = text.split("\n")
    depth, at = 0, len(lines)
    for number, line in enumerate(lines, 1):
        depth += sum(line.count(c) for c in "[{")
        if depth > _DEEPEST:
            at = number
            break
        depth -= sum(line.count(c) for c in "]}")
    return Mistake(
        at,
        _key_of(lines[at - 1]),
        "brackets stand in brackets too deep;",
        "two or three levels are allowed, as corners = [[0, 0], [100, 0], [100, 50]].",
        "Take some away.",
    )


def _too_long(text: str) -> Mistake:
    """A number of thousands of digits, with its line."""
    digits = [(max((len(m) for m in re.findall(r"\d+", line)), default=0), -i)
              for i, line in enumerate(text.split("\n"), 1)]  # fmt: skip
    longest, number = max(digits)
    return Mistake(
        -number,
        _key_of(text.split("\n")[-number - 1]),
        f"a number of {longest} digits was given;",
        "a dozen digits are more than anybody measures.",
        "Shorten it.",
    )


def syntax_mistake(text: str, words: str) -> Mistake:
    """The mistake that the standard library's words tell of, with the line and a hint."""
    lines = text.split("\n")
    match = _AT.search(words)
    number = int(match.group(1)) if match else len(lines)
    reason = _AT.sub("", words).replace("(at end of document)", "").strip()
    # The reader may be a line late (an open quote) or at the very end (an open bracket).
    for at in dict.fromkeys((number, number - 1)):
        if not 1 <= at <= len(lines):
            continue
        line = lines[at - 1]
        hint = next((say for pattern, say in _HINTS if re.search(pattern, line)), "")
        if hint == _WITH_UNIT:
            inches = re.search(r"^\s*units\s*=\s*[\"']\s*in", text, re.MULTILINE)
            hint = _IN_INCHES if inches else _IN_MM
        if hint:
            return Mistake(at, _key_of(line), f"`{line.strip()[:60]}` cannot be read ({reason}).",
                           "", hint + _others(lines, at))  # fmt: skip
    while number > 1 and not lines[min(number, len(lines)) - 1].strip():
        number -= 1
    line = lines[min(number, len(lines)) - 1].strip()
    if "verwrite" in words or "Cannot declare" in words or "Duplicate" in words:
        to_do = "A key or [header] may stand once; several of a kind need [[double brackets]]."
    elif re.search("Unclosed|key part|inline table|array", words):
        to_do = _LISTED
    else:
        to_do = "`mapper example` shows how a part file is written."
    return Mistake(number, _key_of(line), f"`{line[:60]}` cannot be read ({reason}).", "", to_do)


def _others(lines: list[str], at: int) -> str:
    """Words naming the lines after this one that alone cannot be read either, or ""."""
    found = []
    for number, line in enumerate(lines[at:], at + 1):
        if not re.match(r"\s*[A-Za-z_][\w.-]*\s*=", line):
            continue
        try:
            tomllib.loads(line)
        except tomllib.TOMLDecodeError:
            if any(re.search(pattern, line) for pattern, _ in _HINTS):
                found.append(str(number))
        except (RecursionError, ValueError):
            continue
    if not found:
        return ""
    some = ", ".join(found[:12])
    return f" Look at line{'s' if len(found) > 1 else ''} {some} too."


def _key_of(line: str) -> str:
    match = re.match(r"\s*\[*\s*([A-Za-z_][\w .-]*)", line)
    return match.group(1).strip() if match else ""
