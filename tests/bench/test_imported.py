"""Importing and cutting a mesh against xatlas, the usual unwrapping library, on the same mesh.

xatlas needs more than ten minutes for 200,000 triangles of a smooth sheet, so the ratio is taken at
20,000 and our own time is also told at 200,000.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
import trimesh
import xatlas

from mapper.surface.imported.charts import cut
from mapper.surface.imported.mend import mend
from mapper.surface.imported.read import RawMesh

pytestmark = pytest.mark.bench


def body(count: int) -> RawMesh:
    """A long smooth body with one end open, of about `count` triangles."""
    ball = trimesh.creation.icosphere(subdivisions=7 if count > 81_920 else 5)
    points = np.asarray(ball.vertices) * [3000.0, 600.0, 500.0]
    faces = np.asarray(ball.faces)
    kept = faces[np.argsort(-points[faces].mean(axis=1)[:, 0])[:count]]
    used, renamed = np.unique(kept, return_inverse=True)
    return RawMesh("body", "mm", points[used], renamed.reshape(-1, 3).astype(np.int32))


def test_cutting_against_xatlas() -> None:
    raw = body(20_000)
    begin = time.process_time()
    charts = cut(mend(raw))
    ours = time.process_time() - begin
    begin = time.process_time()
    vertex, index, uv = xatlas.parametrize(
        raw.points.astype(np.float32), raw.triangles.astype(np.uint32)
    )
    theirs = time.process_time() - begin
    p, q = raw.points[vertex[index]], uv[index].astype(np.float64)
    space = np.linalg.norm(np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]), axis=1)
    one, two = q[:, 1] - q[:, 0], q[:, 2] - q[:, 0]
    flat = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
    ratio = np.abs(flat) / space
    worst = float(np.abs(ratio / np.median(ratio) - 1.0).max())
    own = max(c.worst for c in charts)
    print(
        f"\n20,000 triangles: ours {ours:.2f} s, {len(charts)} charts, worst area error {own:.3f}, "
        f"none mirrored; xatlas {theirs:.1f} s, worst {worst:.3f}, "
        f"{(flat < 0).mean():.0%} of the triangles mirrored: {theirs / ours:.0f} times"
    )
    assert theirs > ours
    assert own < worst


def test_two_hundred_thousand_triangles() -> None:
    begin = time.process_time()
    charts = cut(mend(body(200_000)))
    print(f"\n200,000 triangles: {time.process_time() - begin:.1f} s, {len(charts)} charts")
    assert max(c.worst for c in charts) < 0.15
