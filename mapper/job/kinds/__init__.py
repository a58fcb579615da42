"""The twelve kinds of entry, in the order people meet them on the job.

A new kind is one `Kind` in a file of this folder, a line here, and its style token in the drawing's
style file.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mapper.job.fields import Kind
from mapper.job.kinds.coats import APPLICATION, BLASTING_ROUND, COAT_ZONE, MASKING, TRIAL_PATCH
from mapper.job.kinds.findings import FINDING, INSPECTED_AREA, MARKING, READING
from mapper.job.kinds.metal import PAINT_APPLICATION, REMOVED_PART, TREATMENT

KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            FINDING,
            MARKING,
            COAT_ZONE,
            APPLICATION,
            BLASTING_ROUND,
            MASKING,
            INSPECTED_AREA,
            TREATMENT,
            PAINT_APPLICATION,
            TRIAL_PATCH,
            READING,
            REMOVED_PART,
        )
    }
)
