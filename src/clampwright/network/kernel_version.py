"""Keeps cached machine code true to its sources.

The compiler's cache looks only at the file of the function it caches, not at what that function calls.
So only entry functions are cached, and each closes over the version of every source it is made of:
the cache treats a changed closure as another function.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

HERE = Path(__file__).parent
SOURCES = (
    HERE / "adjoint_lanes.py",
    HERE / "junctions.py",
    HERE / "lanes.py",
    HERE / "lane_answer.py",
    HERE / "lane_clamps.py",
    HERE / "lane_linear.py",
    HERE / "rail_kernel.py",
    HERE / "rail_laws.py",
    HERE / "solve.py",
    HERE / "batch.py",
    HERE / "clamp_points.py",
    HERE.parent / "physics" / "kernels.py",
    HERE.parent / "physics" / "law.py",
    HERE.parent / "physics" / "terminal.py",
)


def source_version() -> int:
    """A number that changes when any source of a compiled kernel does."""
    digest = hashlib.sha256()
    for path in SOURCES:
        digest.update(path.read_bytes())
    return int.from_bytes(digest.digest()[:7])
