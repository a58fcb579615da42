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
