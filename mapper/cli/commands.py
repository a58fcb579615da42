"""The list of command modules; a new module is one line here."""

from __future__ import annotations

from mapper.cli import (
    archive,  # noqa: F401
    distance,  # noqa: F401
    findings_map,  # noqa: F401
    record,  # noqa: F401
    record_bays,  # noqa: F401
    record_change,  # noqa: F401
    record_entry,  # noqa: F401
    record_keep,  # noqa: F401
    record_list,  # noqa: F401
    remap,  # noqa: F401
    report,  # noqa: F401
    serve,  # noqa: F401
    shape,  # noqa: F401
    take_in,  # noqa: F401
)
