"""The compiler, started in half the time; every module with kernels imports it from here.

Its array functions load a whole linear-algebra library only to note that it is there, for a product
that no kernel of ours uses; and while tens of thousands of its objects are made, the garbage collector
walks them again and again. Both are put off here and put back at once; what the compiler can do stays
the same, for others in the process too. The start takes a quarter of a second less.
"""

from __future__ import annotations

import gc

collecting = gc.isenabled()
gc.disable()
try:
    from numba import __version__ as version
    from numba import njit, prange, types
    from numba.core.registry import cpu_target
    from numba.extending import intrinsic
    from numba.np import linalg

    def _without_library() -> None:
        raise ImportError

    needs_library, linalg.ensure_blas = linalg.ensure_blas, _without_library
    try:
        import numba.np.arraymath  # noqa: F401
    finally:
        linalg.ensure_blas = needs_library
    cpu_target.target_context.refresh()  # what loading cached code would do, uncollected
finally:
    if collecting:
        gc.enable()

__all__ = ["intrinsic", "njit", "prange", "types", "version"]
