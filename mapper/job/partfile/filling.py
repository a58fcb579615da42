"""What a part file may leave to be worked out: names of rows along a line, seams along a rib."""

from __future__ import annotations

from typing import Any

from mapper.job.partfile.check import Notes
from mapper.job.partfile.values import closest, shown

Row = dict[str, Any]


def fill_in(values: Row, notes: Notes) -> None:
    """Put into the checked rows what other rows say; note what they cannot say."""
    for table, word in (("rivet_row", "rivets"), ("lap", "lap")):
        taken = {row.get("name") for row in values.get(table, ())}
        for row in values.get(table, ()):
            if "name" in row or notes.bad((*row["path"], "name")):
                continue
            name = f"{word} along {row.get('along', 'its own line')}"
            number = 2
            while name in taken:
                name = f"{name.removesuffix(f' ({number - 1})')} ({number})"
                number += 1
            taken.add(name)
            row["name"] = name
    for seam in values.get("seam", ()):
        if "along" in seam:
            _along(seam, values, notes)


def _along(seam: Row, values: Row, notes: Notes) -> None:
    """A seam along a rib has its station, along a spar its % chord and ends."""
    path = (*seam["path"], "along")
    both = [key for key in ("station", "chord") if key in seam]
    if both:
        notes.mistake(
            path,
            f"both `along` and {both[0]} were given;",
            "one of the two ways is allowed.",
            "Take one out.",
        )
        return
    for table, keys in (
        ("rib", ("station", "from_chord", "to_chord")),
        ("spar", ("chord", "from_station", "to_station")),
    ):
        for row in values.get(table, ()):
            if row.get("name") == seam["along"]:
                seam.update({k: row[k] for k in keys if k in row and k not in seam})
                if keys[0] not in seam:  # the line's own place is a mistake, told already
                    notes.spoilt.add((*seam["path"], keys[0]))
                return
    names = tuple(
        str(row["name"]) for t in ("rib", "spar") for row in values.get(t, ()) if "name" in row
    )
    near = closest(str(seam["along"]), names)
    notes.mistake(
        path,
        f"there is no rib or spar {shown(seam['along'])};",
        f"allowed are {', '.join(names[:8])}." if names else "the file names none.",
        f'Did you mean "{near}"?' if near else "Name one of them, or give station or chord.",
    )
    notes.spoilt.add((*seam["path"], "station"))
