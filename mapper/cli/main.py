"""The command line: `mapper COMMAND`. It parses, wires and prints; it computes nothing.

Each module of this room adds its commands to `app`; their functions import what they need when they
run, so that `mapper --help` is quick.
"""

from __future__ import annotations

import io
import os
import sys
from typing import NoReturn

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

    _print_anything()
    try:
        code = app(standalone_mode=False)
        sys.stdout.flush()
    except MapperError as error:
        _stop(str(error))
    except (KeyboardInterrupt, typer.Abort):
        print("mapper: stopped.", file=sys.stderr)
        sys.exit(130)
    except BrokenPipeError:
        # The reader (a pager, `head`) has seen enough; nothing may be flushed to it any more.
        _print_no_more()
        sys.exit(0)
    except OSError as error:
        # An error with a file's name is ours to catch nearer; one without is of what was printed.
        if error.filename is not None:
            raise
        _print_no_more()
        _stop(
            f"What there was to print could not be written ({error.strerror})."
            " What was recorded before stays recorded: see `mapper history`."
        )
    except Exception as error:
        # What the parser says about the words typed, in one line; anything else is our mistake.
        words = getattr(error, "format_message", None)
        if words is None:
            raise
        if type(error).__name__ == "NoArgsIsHelpError":
            print(words())
            sys.exit(0)
        context = getattr(error, "ctx", None)
        where = context.command_path if context else "mapper"
        _stop(f"{' '.join(words().split())} See {where} --help.")
    sys.exit(code if isinstance(code, int) else 0)


def _print_anything() -> None:
    """Where the terminal lacks a letter (a square metre's 2, a name), it is shown by its number:
    a command must not fail over that after it has recorded something."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def _print_no_more() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _stop(words: str) -> NoReturn:
    print(f"mapper: {words}", file=sys.stderr)
    sys.exit(2)
