"""Whether the compiled kernels have been made on this computer, and making them.

The first compilation takes seconds and goes on in the background while the plain path answers. A file
beside the compiler's cache says that it is done, for this version of the sources, the compiler and the
processor: from then on every process uses the same machine code from its first answer, so that the
same question always gets the same bits.
"""

# mypy: disable-error-code="import-untyped"

from __future__ import annotations

import threading
from contextlib import suppress
from functools import cache
from pathlib import Path

import numpy as np

_made = threading.Event()
_making = threading.Lock()
_put_off = threading.Event()


def is_made() -> bool:
    """Whether the kernels lie ready; if not, start to make them in the background."""
    if not _made.is_set() and not _put_off.is_set():
        if _mark().exists():
            _made.set()
        elif _making.acquire(blocking=False):
            threading.Thread(target=make, name="clampwright compiler", daemon=True).start()
    return _made.is_set()


def put_off() -> None:
    """Answer by the plain path until `load`: for what must not wait until the compiler has started."""
    _put_off.set()


def load() -> None:
    """Load the kernels where they lie ready, and use them from now on; else as `is_made`."""
    if _mark().exists():
        make()
    _put_off.clear()
    is_made()


def make() -> None:
    """Compile the kernels or load them, and note that they are there."""
    from clampwright.network.adjoint_lanes import adjoint, first_fall
    from clampwright.network.batch import Values
    from clampwright.network.circuit import Circuit, Resistor
    from clampwright.network.compiled import solve_compiled
    from clampwright.network.junctions import solve_junctions
    from clampwright.physics.kernels import COUNT

    circuit = Circuit(fixed=("source",), resistors=(Resistor("R", "source", "pin"),))
    solve_compiled(circuit, Values({"source": 0.0}, {"R": 1.0}, {}, {}, {}))
    one, nothing = np.ones(1), np.zeros((1, 1))
    adjoint(nothing, one, nothing, one, one, one, np.empty((1, 1), complex))
    first_fall(nothing, one, nothing, one, one, one, one, 0.0, 1.0, 1.0, 1)
    solve_junctions(one, one, np.ones((1, COUNT)), np.empty(1))
    with suppress(OSError):  # a cache that cannot be written: the code lives in this process only
        _mark().touch()
    _made.set()


@cache
def _mark() -> Path:
    """The file that says so."""
    import llvmlite
    from llvmlite.binding import get_host_cpu_name

    from clampwright.network.kernel_version import source_version
    from clampwright.network.lanes import solve_cases
    from clampwright.physics.compiler import version

    name = f"made-{source_version():x}-{version}-{llvmlite.__version__}-{get_host_cpu_name()}"
    return Path(solve_cases.stats.cache_path) / name


if __name__ == "__main__":
    make()
