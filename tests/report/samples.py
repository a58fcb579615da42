"""A small made-up document with every kind of block, and files to put into it."""

from __future__ import annotations

from pathlib import Path

from PIL import Image

from mapper.report.model import (
    Bullets,
    Column,
    Document,
    Facts,
    Figure,
    Gallery,
    Section,
    Table,
    ToSign,
    Warnings,
    Words,
)

DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 150">'
    '<defs><clipPath id="a"><rect width="400" height="150"/></clipPath></defs>'
    '<g clip-path="url(#a)" opacity=".5"><circle cx="90" cy="70" r="50" fill="red"/></g></svg>'
)


def drawing(folder: Path, text: str = DRAWING) -> Path:
    path = folder / "map.svg"
    path.write_text(text, "utf-8")
    return path


def photo(folder: Path) -> Path:
    path = folder / "photo.jpg"
    Image.new("RGB", (80, 50), (20, 90, 120)).save(path)
    return path


def document(folder: Path, note: str = "A note.") -> Document:
    """One of everything; `note` stands wherever user text can stand."""
    seen = Figure(photo(folder), f"Photo. {note}", f"No. 1: {note}", "photo")
    table = Table(
        f"Areas {note}",
        (Column(f"Part {note}", share=2), Column("Area", number=True)),
        ((note, "3.20 m²"), ("All", "3.20 m²")),
        total=True,
        foot=(note,),
        details=(note, ""),
    )
    return Document(
        f"Report {note}",
        note,
        (Words(note, "lead"), Facts((("Owner", note),)), Words(note, "gap")),
        (
            Section(f"Parts {note}", 1, (table, Table("None", (Column("A"),), ())), new_page=True),
            Section("Wing", 1, (Figure(drawing(folder), "A map.", note), Gallery((seen, seen)))),
            Section("Skin", 2, (Bullets((note,)), Warnings(((note, note), (note, ""))))),
            Section(
                "Panel",
                3,
                (ToSign(((note, note, note), ("", "", ""))), Words(note, "quiet")),
                together=True,
            ),
        ),
        f"Job {note}",
    )
