"""The list of command modules; a new module is one line here."""

from __future__ import annotations

from mapper.cli import shape  # noqa: F401
