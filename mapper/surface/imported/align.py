"""Put a scanned part where it belongs, by points that have names."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from mapper.errors import MapperError

Array = NDArray[np.float64]

LEAST = 3
SLIM = 1e-3  # of their spread: landmarks nearer than that to one line settle no turn about it


@dataclass(frozen=True, eq=False)
class Alignment:
    """rotation @ point + origin carries the file's mm to the part's frame; residual: mm that each
    landmark is off after it, by name."""

    origin: Array
    rotation: Array
    residual: Mapping[str, float]

    @property
    def rms(self) -> float:
        """Root mean square of the residuals, mm."""
        return float(np.sqrt(np.mean(np.square(list(self.residual.values())))))

    def words(self) -> str:
        """What is shown and kept beside the shape: how well the landmarks meet."""
        each = ", ".join(f"{name} {mm:.2f}" for name, mm in self.residual.items())
        return f"Aligned on {len(self.residual)} landmarks, {self.rms:.2f} mm rms ({each} mm)."


def align(scan: Mapping[str, Sequence[float]], part: Mapping[str, Sequence[float]]) -> Alignment:
    """The rigid move that brings landmarks of a scan to their places in the part's frame (mm).

    Least squares over all landmarks, without stretching or mirroring (Kabsch, Acta Cryst. A32,
    1976, from memory). MapperError for fewer than three names, names that are not in both, points
    that are not numbers, and landmarks that lie on one line.
    """
    if set(scan) != set(part):
        odd = ", ".join(sorted(set(scan) ^ set(part)))
        raise MapperError(
            f"The landmarks {odd} are given on one side only.",
            "Each has a place in the scan and one on the part.",
            "Give both, or leave it out.",
        )
    names = list(scan)
    if len(names) < LEAST:
        raise MapperError(
            f"{len(names)} landmarks were given.", f"{LEAST} or more are needed.", "Name more."
        )
    here, there = (_points(side, names) for side in (scan, part))
    for points in (here, there):
        spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
        if spread[1] <= SLIM * spread[0]:
            raise MapperError(
                f"The landmarks {', '.join(names)} lie on one line.",
                "The part could still turn about it.",
                "Name one that lies aside.",
            )
    a, b = here - here.mean(axis=0), there - there.mean(axis=0)
    u, _, v = np.linalg.svd(a.T @ b)
    # The nearest rotation; never a mirror image, which would make a left part of a right one.
    hand = np.diag([1.0, 1.0, float(np.sign(np.linalg.det(v.T @ u.T)))])
    rotation = v.T @ hand @ u.T
    origin = there.mean(axis=0) - rotation @ here.mean(axis=0)
    off = np.linalg.norm(here @ rotation.T + origin - there, axis=1)
    return Alignment(origin, rotation, dict(zip(names, off.tolist())))


def _points(side: Mapping[str, Sequence[float]], names: list[str]) -> Array:
    try:
        points = np.array([side[n] for n in names], dtype=np.float64)
    except (TypeError, ValueError):
        points = np.empty(0)
    if points.shape != (len(names), 3) or not np.isfinite(points).all():
        raise MapperError(
            f"The landmarks {', '.join(names)} are not all points.", "Three numbers each, in mm."
        )
    return points
