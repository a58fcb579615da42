"""Reads out of the history who decided, who corrected a shape, and who confirmed places.

Rows of entries hold whole outlines, so texts are looked through by the database itself, and only
the few words that are asked for leave it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Row, and_, case, func, select

from mapper.job.trail import Correction, Settled, Trail, Written
from mapper.store.errors import plain_words
from mapper.store.shop import DATABASE, Store
from mapper.store.tables import history

# As `canonical` writes them; inside a text the quotation marks would have a backslash before them.
_DOUBTLESS, _DECISION = '%"unconfirmed":""%', '%"disposition":%'
_DECIDED = ("disposition", "disposed_by", "licence", "basis", "disposed_on")


def trail_of(store: Store, job_id: str) -> Trail:
    """What the history says of who wrote a job's record; an unknown job has an empty trail.

    What an undo took back does not count. ShopDamaged where the database cannot be read.
    """
    rows = _rows(store, job_id)
    changes = [row for row in rows if row.kind == "entry" and row.op == "change"]
    carried = Counter(row.action_id for row in changes)
    decided: dict[str, Written] = {}
    settled: dict[str, Settled] = {}
    for row in rows:
        if row.kind != "entry":
            continue
        if row.decision != row.decision_before:
            decided[row.record_id] = _written(row)
        if row.doubt_went and row.same_shape:
            settled[row.record_id] = Settled(row.record_id, _written(row), not row.same_outline)
        elif row.doubt_came:
            settled.pop(row.record_id, None)
    # Carried over and confirmed is told of the part: here counts what the entry says.
    corrections = _corrections([row for row in rows if row.kind == "part"], carried)
    moved = {r.action_id for r in rows if r.kind == "part" or r.doubt_went or r.doubt_came}
    return Trail(
        decided,
        {row.record_id: _written(row) for row in changes if row.action_id not in moved},
        corrections,
        settled,
    )


def _rows(store: Store, job_id: str) -> Sequence[Row[Any]]:
    h = history.c
    before, after = h.before, h.after
    sure, was_sure = after.like(_DOUBTLESS), before.like(_DOUBTLESS)

    def of(text: Any, name: str) -> Any:
        return func.json_extract(text, f"$.{name}")

    def decision(text: Any) -> Any:
        values = func.json_array(*(of(text, f"values.{name}") for name in _DECIDED))
        return case((text.like(_DECISION), values), else_=None)

    went = and_(h.op == "change", ~was_sure, sure)
    came = and_(h.op == "change", was_sure, ~sure)
    same = {
        name: case((went, of(before, name) == of(after, name)), else_=None)
        for name in ("geometry", "outline")
    }
    part = h.kind == "part"
    wanted = (
        select(
            h.kind,
            h.op,
            h.mode,
            h.action_id,
            h.record_id,
            h.by_person,
            h.device_time,
            h.words,
            decision(after).label("decision"),
            decision(before).label("decision_before"),
            went.label("doubt_went"),
            came.label("doubt_came"),
            same["geometry"].label("same_shape"),
            same["outline"].label("same_outline"),
            case((part, of(before, "geometry")), else_=None).label("shape_before"),
            case((part, of(after, "geometry")), else_=None).label("shape"),
        )
        .where(h.job_id == job_id, h.kind.in_(("entry", "part")))
        .order_by(h.seq)
    )
    with plain_words(store.folder / DATABASE), store.engine.connect() as connection:
        return connection.execution_options(reading=True).execute(wanted).all()


def _written(row: Row[Any]) -> Written:
    return Written(row.by_person, row.device_time, row.words)


def _corrections(rows: Sequence[Row[Any]], carried: Counter[str]) -> tuple[Correction, ...]:
    """Changes of a part from one shape to another that were not taken back."""
    found: list[tuple[str, str, Correction]] = []
    for row in rows:
        if not (row.shape_before and row.shape) or row.shape_before == row.shape:
            continue
        way = (row.shape, row.shape_before, row.record_id)
        back = [i for i, (*ends, one) in enumerate(found) if (*ends, one.part_id) == way]
        if row.mode == "undo" and back:
            found.pop(back[-1])
            continue
        made = Correction(row.record_id, _written(row), carried[row.action_id])
        found.append((row.shape_before, row.shape, made))
    return tuple(one for *_, one in found)
