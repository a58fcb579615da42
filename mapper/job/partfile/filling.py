"""What a part file may leave to be worked out: names of rows, seams along a rib, rows at every so
many inches."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from mapper.job.partfile.check import Notes
from mapper.job.partfile.lofted import span_of
from mapper.job.partfile.values import closest, shown

Row = dict[str, Any]
_ALONG = ("rib", "spar", "frame", "longeron")
_MOST = 200  # ribs, stringers or rows that one row may stand for


def fill_in(values: Row, notes: Notes) -> None:
    """Put into the checked rows what other rows say; note what they cannot say."""
    for table in ("rib", "stringer", "rivet_row"):
        if values.get(table):
            made = [one for row in values[table] for one in _each(table, row, values, notes)]
            values[table] = tuple(made)
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


def _each(table: str, row: Row, values: Row, notes: Notes) -> Iterator[Row]:
    """The row itself; of one with `every` a row for each place, with its number behind its name."""
    path = row["path"]
    if "every" not in row:
        if table == "rib" and "station" not in row and not notes.bad((*path, "station")):
            notes.mistake(
                (*path, "station"),
                f"it is missing in rib {path[-1] + 1};",
                "the station of one rib, or `every` with from_station and to_station, is needed.",
            )
        alone = ("first_number", *(("from_station", "to_station") if table == "rib" else ()))
        for key in (k for k in alone if k in row):
            notes.mistake((*path, key), "it is for several;", "`every` is needed with it.",
                          "Add every, or take it out.")  # fmt: skip
        yield row
        return
    lone = next((k for k in ("station", "along") if k in row and table != "stringer"), "")
    across = "chord" if table == "stringer" else "station"
    low, high = f"from_{across}", f"to_{across}"
    span = span_of(values) or (None, None)
    ends = [row.get(low, span[0] if table != "stringer" else None),
            row.get(high, span[1] if table != "stringer" else None)]  # fmt: skip
    other = "station" if table == "stringer" else "chord"
    needed = [k for k in (low, high) if table != "rib"]
    needed += [k for k in (f"from_{other}", f"to_{other}") if table != "rib"]
    lacking = [k for k in needed if k not in row and not notes.bad((*path, k))]
    if lone:
        notes.mistake((*path, "every"), f"both {lone} and every were given;",
                      "one of the two ways is allowed.", "Take one out.")  # fmt: skip
    elif lacking:
        notes.mistake((*path, "every"), f"{', '.join(lacking)} not given;",
                      f"{', '.join(needed)} are needed with every.")  # fmt: skip
    elif ends[0] is None or ends[1] is None:
        return
    elif ends[1] <= ends[0]:
        notes.mistake((*path, high), f"it is not beyond {low};",
                      f"{high} greater than {low} is allowed.")  # fmt: skip
    else:
        yield from _spread(table, row, (ends[0], ends[1]), (low, high), notes)


def _spread(
    table: str, row: Row, ends: tuple[float, float], keys: tuple[str, str], notes: Notes
) -> Iterator[Row]:
    # A last place that rounding puts a hair beyond the end is still there.
    count = int((ends[1] - ends[0]) / row["every"] + 1e-6) + 1
    if count > _MOST:
        notes.mistake(
            (*row["path"], "every"), f"it gives {count} of them;", f"up to {_MOST} are allowed."
        )
        return
    first, name = int(row.get("first_number", 1)), row.get("name", "rivets")
    kept = {k: v for k, v in row.items() if k not in ("every", "first_number", "name", *keys)}
    for i in range(count):
        place = min(ends[0] + i * row["every"], ends[1])
        at = {"station": place} if table == "rib" else dict.fromkeys(keys, place)
        yield kept | at | {"name": f"{name} {first + i}"}


def _along(seam: Row, values: Row, notes: Notes) -> None:
    """A seam along a rib has its station, along a spar its % chord and ends."""
    path = (*seam["path"], "along")
    both = [key for key in ("station", "chord", "angle", "waterline") if key in seam]
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
        ("frame", ("station",)),
        ("longeron", ("angle", "waterline", "side", "from_station", "to_station")),
    ):
        for row in values.get(table, ()):
            if row.get("name") == seam["along"]:
                seam.update({k: row[k] for k in keys if k in row and k not in seam})
                if keys[0] not in seam:  # the line's own place is a mistake, told already
                    notes.spoilt.add((*seam["path"], keys[0]))
                return
    names = tuple(str(row["name"]) for t in _ALONG for row in values.get(t, ()) if "name" in row)
    word = "frame or longeron" if "cross_section" in values else "rib or spar"
    near = closest(str(seam["along"]), names)
    notes.mistake(
        path,
        f"there is no {word} {shown(seam['along'])};",
        f"allowed are {', '.join(names[:8])}." if names else "the file names none.",
        f'Did you mean "{near}"?' if near else "Name one of them, or give station or chord.",
    )
    notes.spoilt.add((*seam["path"], "station"))
