"""The scanner finds the line of every key that the standard library's reader finds."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from mapper.job.partfile.scan import Path, key_lines
from mapper.job.partfile.words import example, example_names

AWKWARD = '''# a comment with = and [brackets]
units = "mm" # "and" a quote
"quoted key" = 1
'it''s' = 2
a.b.c = 3
a . "d.e" = 4
long = """
[not a header]
key = "not a key"
""" # after
literal = \'\'\'
x = 1 \'\'\'
list = [ 1, # one
  [2, 3],   # two
  "]",
]
inline = { x = 1, y = { z = [ { w = 2 }, { w = 3 } ] } }
when = 2026-05-31 10:00:00
[table]
k = "a\\"b # no comment"
[table.inner]
k = 1
[[row]]
name = "first"
[[row.sub]]
n = 1
[[row.sub]]
n = 2
[row.one]
n = 3
[[row]]
name = "second"
[[row.sub]]
n = 4
'''.replace("'it''s' = 2\n", "'its = 2' = 2\n")


def paths(value: Any, path: Path = ()) -> list[Path]:
    if isinstance(value, dict):
        return [p for k, v in value.items() for p in [(*path, k), *paths(v, (*path, k))]]
    if isinstance(value, list):
        return [p for i, v in enumerate(value) for p in [(*path, i), *paths(v, (*path, i))]]
    return []


@pytest.mark.parametrize("text", [AWKWARD, *(example(n) for n in example_names())])
def test_every_path_of_the_library_has_a_line(text: str) -> None:
    lines = key_lines(text)
    found = paths(tomllib.loads(text))
    assert len(found) > 5
    assert [p for p in found if lines.exact(p) is None] == []


@pytest.mark.parametrize(
    ("path", "words"),
    [
        (("units",), 'units = "mm"'),
        (("quoted key",), '"quoted key" = 1'),
        (("a", "b", "c"), "a.b.c = 3"),
        (("a", "d.e"), 'a . "d.e" = 4'),
        (("list", 1, 1), "[2, 3],"),
        (("list", 2), '"]",'),
        (("inline", "y", "z", 1, "w"), "inline = {"),
        (("when",), "when = "),
        (("table", "k"), 'k = "a'),
        (("table", "inner"), "[table.inner]"),
        (("row", 0, "sub", 1, "n"), "n = 2"),
        (("row", 0, "one", "n"), "n = 3"),
        (("row", 1, "sub", 0, "n"), "n = 4"),
    ],
)
def test_the_line_is_the_one_a_person_would_point_at(path: Path, words: str) -> None:
    line = key_lines(AWKWARD).exact(path)
    assert line is not None
    assert AWKWARD.split("\n")[line - 1].strip().startswith(words)


def test_a_missing_key_gives_the_line_of_what_is_round_it() -> None:
    lines = key_lines(AWKWARD)
    assert lines.of(("row", 1, "absent")) == lines.exact(("row", 1))
    assert key_lines("").of(("absent",)) == 1
