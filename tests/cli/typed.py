"""The command as typed, in this process: exit code, output and error output."""

from __future__ import annotations

import contextlib
import io
import shlex
import sys
from dataclasses import dataclass
from unittest import mock

from mapper.cli import main


@dataclass(frozen=True)
class Typed:
    """What a command gave back."""

    code: int
    out: str
    err: str


def typed(line: str, **variables: str) -> Typed:
    """Run `mapper` with the words of a line, split as a shell does, through its entry point."""
    out, err = io.StringIO(), io.StringIO()
    code = 0
    words = ["mapper", *shlex.split(line)]
    with (
        mock.patch.object(sys, "argv", words),
        mock.patch.dict("os.environ", variables),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
    ):
        try:
            main.run()
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else int(stop.code is not None)
    return Typed(code, out.getvalue(), err.getvalue())


PART = """
units = "mm"
part = "right wing"
shape = "loft"

[measured]
how = "tape"
tolerance = 2

[[section]]
station = 0
chord = 1500
profile = "0012"

[[section]]
station = 3000
chord = 1000

[[seam]]
name = "mid seam"
station = 1500

[[rib]]
name = "rib 4"
station = 1000

[[spar]]
name = "front spar"
chord = 20
"""


def fine(line: str, **variables: str) -> str:
    """The output of a command that must work."""
    done = typed(line, **variables)
    assert done.code == 0, f"{line}\n{done.err}"
    return done.out


def refused(line: str) -> str:
    """The one line of a command that must not work."""
    done = typed(line)
    assert done.code == 2, done
    assert done.out == ""
    assert done.err.startswith("mapper: ") and done.err.count("\n") == 1
    return done.err
