"""What all tests share: property tests that are alike at every run where nothing may be skipped.

Elsewhere they try other examples each time, which is how they find something new; a run that
decides whether a change may land must not fail for what another run would not have met.
"""

from __future__ import annotations

import os

from hypothesis import settings

settings.register_profile("steady", derandomize=True)
if os.environ.get("MAPPER_NO_SKIP"):
    settings.load_profile("steady")
