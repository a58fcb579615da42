"""What all tests share: property tests that are alike at every run where nothing may be skipped.

Elsewhere they try other examples each time, which is how they find something new; a run that
decides whether a change may land must not fail for what another run would not have met. Nowhere do
they fail for being slow: how long an example takes says what else the machine does.

And the order of the files: what takes long is begun first, so that no worker is left alone with it
at the end (`make test` deals out whole files, in this order).
"""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("patient", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("steady", settings.get_profile("patient"), derandomize=True)
settings.load_profile("steady" if os.environ.get("MAPPER_NO_SKIP") else "patient")

LONG = (
    "demo/test_demo.py",
    "viewer/page/test_states.py",
    "viewer/page/test_views_painting.py",
    "viewer/page/test_forms.py",
    "viewer/page/test_faults.py",
    "viewer/page/",
    "viewer/",
    "report/",
    "drawing/",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Files of LONG first, in that order; the others as they were."""

    def rank(item: pytest.Item) -> int:
        path = item.path.as_posix()
        return next((n for n, part in enumerate(LONG) if f"/tests/{part}" in path), len(LONG))

    items.sort(key=rank)
