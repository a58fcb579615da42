"""Speed: a brush disc of 50 and of 300 mm on a skin of 200,000 triangles, against pygeodesic.

pygeodesic knows exact distances on a polyhedron. For each disc it is given the triangles about its
centre, no more than needed; it ends with the distances of the corners and makes no outline of them.
Timed with choosing the triangles and making its solver (a brush goes
on to another place), and without. Processor seconds, best of several in one run.

A 50 mm disc on a wing meets a few hundred triangles only, which anything solves in no time; so it
is also measured on a ball of 100 mm radius, where it meets some fifteen thousand. Goal: 50 times,
with choosing the triangles.
Areas of discs are held to 1e-4 on a sphere and on a cylinder of as many triangles.
"""

from __future__ import annotations

from time import process_time

import numpy as np
import pytest

from mapper.surface.brush import fan_disc
from mapper.surface.build import make_skin
from mapper.surface.intrinsic import net_of
from mapper.surface.measure import area
from meshes.loft import LoftSection, loft
from meshes.sections import Naca4
from meshes.tube import tube
from tests.surface.round_skins import at_place, sphere

pytestmark = pytest.mark.bench

GOAL = 50.0
TRIANGLES = 200_000


def best(job, rounds: int) -> float:
    times = []
    for _ in range(rounds):
        start = process_time()
        job()
        times.append(process_time() - start)
    return min(times)


def wing():
    """A twisted wing, 3.5 m span, of nearly 200,000 triangles, and a place on it."""
    sections = [
        LoftSection(0, 1600, Naca4("2412")),
        LoftSection(3500, 1000, Naca4("0009"), twist=-3.0, dihedral=5.0),
    ]
    return make_skin(loft(sections)[0], triangles=TRIANGLES), np.array([1700.0, 420.0])


def ball():
    skin = sphere(100.0, around=448, along=224)
    return skin, at_place(skin, 0.5, 0.3)


class Windows:
    """pygeodesic about one place: the triangles within 1.05 of the radius in space, and the corner
    nearest the centre. Not those on the other side of the sheet, which it cannot reach."""

    def __init__(self, skin, radius):
        self.geodesic = pytest.importorskip("pygeodesic.geodesic")
        self.skin, self.radius = skin, radius
        ends = skin.points[skin.triangles]
        self.longest = np.linalg.norm(ends - np.roll(ends, 1, axis=1), axis=2).max()
        facing = np.cross(ends[:, 1] - ends[:, 0], ends[:, 2] - ends[:, 0])
        self.normals = np.zeros_like(skin.points)
        for corner in range(3):
            np.add.at(self.normals, skin.triangles[:, corner], facing)

    def prepare(self, middle):
        away = np.linalg.norm(self.skin.points - middle, axis=1)
        near = away < 1.05 * self.radius + self.longest
        near &= self.normals @ self.normals[np.argmin(away)] > 0.0
        keep = self.skin.triangles[near[self.skin.triangles].any(axis=1)]
        used, local = np.unique(keep, return_inverse=True)
        self.count = len(keep)
        self.solver = self.geodesic.PyGeodesicAlgorithmExact(
            self.skin.points[used], local.reshape(-1, 3)
        )
        self.source = int(np.argmin(away[used]))
        return used[self.source]

    def solve(self):
        # Told where to stop it trips over the corners it did not reach; the patch ends soon enough.
        return self.solver.geodesicDistances([self.source])[0]


CASES = {
    "wing, 50 mm": (wing, 50.0, np.pi * 50**2),
    "wing, 300 mm": (wing, 300.0, np.pi * 300**2),
    "ball, 50 mm": (ball, 50.0, 2 * np.pi * 1e4 * (1 - np.cos(0.5))),
}


@pytest.mark.parametrize("case", CASES)
def test_disc_against_exact_windows_on_a_patch(case, benchmark, capsys):
    make, radius, about = CASES[case]
    skin, centre = make()
    net_of(skin)
    other = Windows(skin, radius)
    middle = skin.points[np.argmin(np.hypot(*(skin.flat - centre).T))]
    at = skin.flat[other.prepare(middle)]
    region = fan_disc(skin, at, radius)
    # Both mean the same disc: as large as the triangles that are near enough, but for its rim.
    far = other.solve()
    assert 0.1 * len(far) < np.sum(far < 0.98 * radius) < len(far)
    assert area(skin, region) == pytest.approx(about, rel=2e-3)
    benchmark(fan_disc, skin, at, radius)
    mine = best(lambda: fan_disc(skin, at, radius), 60)
    solved = best(other.solve, 5)
    whole = best(lambda: (other.prepare(middle), other.solve()), 5)
    with capsys.disabled():
        print(
            f"\n{case}, {len(skin.triangles)} triangles: fan {1e3 * mine:.2f} ms; exact windows on "
            f"{other.count} of them {1e3 * whole:.1f} ms: {whole / mine:.0f} times (goal "
            f"{GOAL:g}); {1e3 * solved:.1f} ms with the patch at hand: {solved / mine:.1f} times"
        )
    assert whole / mine >= GOAL


@pytest.mark.parametrize("radius", [50.0, 300.0])
def test_areas_at_that_size(radius, capsys):
    """Closed forms: 2 pi R2 (1 - cos(r / R)) on a sphere, pi r2 on a cylinder."""
    ball = sphere(around=448, along=224)
    cap = 2 * np.pi * 1e6 * (1 - np.cos(radius / 1000))
    off = area(ball, fan_disc(ball, at_place(ball, 0.5, 0.3), radius)) / cap - 1
    round_ = make_skin(tube(1200.0, 1200.0, 3000.0)[0], triangles=TRIANGLES)
    flat = area(round_, fan_disc(round_, (1500.0, 100.0), radius)) / (np.pi * radius**2) - 1
    with capsys.disabled():
        print(f"\n{radius:g} mm disc: area off by {off:.1e} on a sphere, {flat:.1e} on a cylinder")
    assert abs(off) < 1e-4
    assert abs(flat) < 1e-4
