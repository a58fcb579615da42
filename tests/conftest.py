"""What all tests share: property tests that are alike at every run where nothing may be skipped.

Elsewhere they try other examples each time, which is how they find something new; a run that
decides whether a change may land must not fail for what another run would not have met. Nowhere do
they fail for being slow: how long an example takes says what else the machine does.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, settings

settings.register_profile("patient", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("steady", settings.get_profile("patient"), derandomize=True)
settings.load_profile("steady" if os.environ.get("MAPPER_NO_SKIP") else "patient")
