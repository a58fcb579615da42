"""The small shop that the server's tests and its bench serve."""

from __future__ import annotations

from pathlib import Path

from mapper.job.partfile.build import build
from mapper.job.partfile.read import read_text
from mapper.job.partfile.words import example
from mapper.job.records import Assembly, Job, Part, Person, Shop
from mapper.store.parts import add_part
from mapper.store.shop import create
from tests.viewer.server.talk import ANN, BARE, BEN, COVER, JOB, LEFT, RIGHT


def make_shop(folder: Path, triangles: int = 2000) -> Path:
    """A shop with a right and a left wing, a plate and a part without a shape; its folder."""
    wing = example("loft")
    store = create(folder, Shop("shop-1", "Field shop"), Person(ANN, "Ann"))
    with store, store.act(ANN, "set up", "action-set-up") as act:
        act.add(Person(BEN, "Ben"))
        act.add(Job(JOB, "Two-seater", airframe="TS 1", owner="Whoever pays"))
        act.add(Assembly("assembly-1", JOB, "Wings"))
        for key, side, code in ((RIGHT, "right", "RW-00"), (LEFT, "left", "LW-00")):
            text = wing.replace('side = "right"', f'side = "{side}"', 1)
            shape = build(read_text(text), triangles=triangles)
            part = Part(key, JOB, "assembly-1", f"{side} outer wing", code=code)
            add_part(act, JOB, "assembly-1", part, shape)
        shape = build(read_text(example("plate")), triangles=400)
        part = Part(COVER, JOB, "assembly-1", "end plate", code="EP-00")
        add_part(act, JOB, "assembly-1", part, shape)
        part = Part(BARE, JOB, "assembly-1", "control column", code="CC-00")
        add_part(act, JOB, "assembly-1", part, None)
    return folder
