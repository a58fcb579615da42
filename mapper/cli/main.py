"""The command line: `mapper COMMAND`. It parses, wires and prints; it computes nothing.

Each module of this room adds its commands to `app`; their functions import what they need when they
run, so that `mapper --help` is quick.
"""

from __future__ import annotations

import sys

import typer

from mapper.errors import MapperError

app = typer.Typer(
    name="mapper",
    help="A map of every part of an old airframe, on its true shape.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def run() -> None:
    """Entry point: a mistake of the user's is one line on stderr and exit code 2."""
    from mapper.cli import commands  # noqa: F401  (registers every command on `app`)

    try:
        app()
    except MapperError as error:
        print(f"mapper: {error}", file=sys.stderr)
        sys.exit(2)
    except KeyboardInterrupt:
        print("mapper: stopped.", file=sys.stderr)
        sys.exit(130)
    except BrokenPipeError:
        sys.exit(0)
