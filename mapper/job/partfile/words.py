"""The table of keys in words, for `mapper keys` and for the documents; and the worked examples."""

from __future__ import annotations

import textwrap
from importlib.resources import files

from mapper.errors import MapperError
from mapper.job.partfile.key import SHAPES, Key
from mapper.job.partfile.keys import keys_of, tables_of
from mapper.job.partfile.values import allowed_words, closest

TYPE_NAMES = {
    "length": "length",
    "angle": "degrees",
    "percent": "% chord",
    "texts": "list of texts",
    "point": "[length, length]",
    "points": "list of [length, length]",
    "space point": "[length, length, length]",
    "angles": "[degrees, degrees, degrees]",
}


def shape_named(name: str) -> str:
    """The shape of this name; MapperError with the shapes there are, and the nearest."""
    if name in SHAPES:
        return name
    near = closest(name, tuple(SHAPES)) or closest(name.replace("-", " "), tuple(SHAPES))
    raise MapperError(
        f'There is no shape "{name}".',
        f"Shapes are {', '.join(SHAPES)}.",
        f'Did you mean "{near}"?' if near else "",
    )


def key_rows(shape: str) -> list[dict[str, str]]:
    """One mapping per key of a shape, in the order of the file: table, key, type, allowed, default,
    required ("yes" or ""), help. MapperError for an unknown shape."""
    shape_named(shape)
    found: list[dict[str, str]] = []
    for table in ("", *tables_of(shape)):
        found += [{"table": table, **_row(k)} for k in keys_of(shape, table) if not k.of]
    return found


def _row(key: Key) -> dict[str, str]:
    return {
        "key": key.name,
        "type": TYPE_NAMES.get(key.type, key.type),
        "allowed": allowed_words(key),
        "default": key.default,
        "required": "yes" if key.required else "",
        "help": key.help,
    }


def header_of(shape: str, table: str) -> str:
    """A table's header as it is written in a file: "[measured]", "[[rib.lightening_hole]]"."""
    last = table.split(".")[-1]
    outer = table[: -len(last) - 1] if "." in table else ""
    kind = next(k.type for k in keys_of(shape, outer) if k.name == last)
    return f"[{table}]" if kind == "table" else f"[[{table}]]"


def table_help(shape: str, table: str) -> str:
    """What a table is for, with "needed" where a file must have it."""
    last = table.split(".")[-1]
    outer = table[: -len(last) - 1] if "." in table else ""
    key = next(k for k in keys_of(shape, outer) if k.name == last)
    return key.help + (" (needed)" if key.required else "")


def example_names() -> tuple[str, ...]:
    """The names of the worked examples, one for each shape and more, in alphabetical order."""
    folder = files("mapper.job.partfile") / "examples"
    names = (f.name for f in folder.iterdir())
    return tuple(sorted(n.removesuffix(".toml") for n in names if n.endswith(".toml")))


def example(name: str) -> str:
    """The text of a worked example, or of the mesh that one of them names ("mesh.obj");
    MapperError with the names there are."""
    names = example_names()
    if name.endswith(".obj") and name.removesuffix(".obj") in names:
        beside = files("mapper.job.partfile") / "examples" / name
        if beside.is_file():
            return beside.read_text("utf-8")
    plain = name.removesuffix(".toml").replace(" ", "-")
    if plain not in names:
        near = closest(plain, names)
        raise MapperError(
            f'There is no example "{name}".',
            f"Examples are {', '.join(names)}.",
            f'Did you mean "{near}"?' if near else "",
        )
    return (files("mapper.job.partfile") / "examples" / f"{plain}.toml").read_text("utf-8")


def example_title(name: str) -> str:
    """The first comment line of an example: what it shows."""
    return example(name).split("\n", 1)[0].lstrip("# ").rstrip()


def _wrapped(first: str, text: str, indent: int) -> list[str]:
    """Text after a first column, folded at 80 columns."""
    lines = textwrap.wrap(text, 79 - indent) or [""]
    if len(first) >= indent:
        return [first, *(" " * indent + line for line in lines)]
    return [(first if i == 0 else "").ljust(indent) + line for i, line in enumerate(lines)]


def shape_lines() -> list[str]:
    """The shapes a part file may have, one a line."""
    rows = [
        line for name, shape in SHAPES.items() for line in _wrapped(f"  {name}", shape.words, 18)
    ]
    return [
        "Shapes of a part file:",
        *rows,
        "`mapper keys loft` lists the keys of one, `mapper example` shows whole files.",
    ]


def example_lines() -> list[str]:
    """The worked examples, one a line."""
    rows = [
        line for name in example_names() for line in _wrapped(f"  {name}", example_title(name), 19)
    ]
    return [
        "Worked part files:",
        *rows,
        "`mapper example loft > wing.toml` writes one to a file to start from.",
    ]


def key_lines(shape: str) -> list[str]:
    """Every key of a shape as text of 80 columns: the table of keys in words."""
    shape = shape_named(shape)
    lines = [
        f"Keys of a part file, shape {shape}. * must be there.",
        'Lengths are in the file\'s `units`; inches also as text: "59 1/16".',
        "Keys at the top come before the first [header].",
    ]
    last = None
    for row in key_rows(shape):
        if row["table"] != last:
            last = row["table"]
            title = "at the top of the file"
            if last:
                title = f"{header_of(shape, last)}  {table_help(shape, last)}"
            lines += ["", title]
        star = "*" if row["required"] else " "
        kind = row["allowed"] or row["type"]
        if row["allowed"] and row["type"] in ("number", "length"):
            kind = f"{row['type']}, {row['allowed']}"
        default = f" (left out: {row['default']})" if row["default"] else ""
        text = f"{kind}: {row['help']}{default}"
        lines += _wrapped(f" {star} {row['key']}", text, 22)
    return lines
