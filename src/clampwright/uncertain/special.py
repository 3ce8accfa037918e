"""Compiled special functions, loaded without the package around them.

The package also makes a form of each function for arrays of other libraries, which nothing here uses
and which takes ten times as long to load as the functions themselves. While they load, an empty package
stands in its place; whoever imports the real one later gets the same functions. Part of `uncertain`.
"""

from __future__ import annotations

import sys
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

import scipy

_PACKAGE = "scipy.special"


def _functions() -> Any:
    """The module that holds the functions; the package itself where it is there already."""
    if _PACKAGE in sys.modules:
        return import_module(_PACKAGE)  # waits for one that is being loaded elsewhere
    empty = ModuleType(_PACKAGE)
    empty.__path__ = [str(Path(scipy.__file__).parent / "special")]
    sys.modules[_PACKAGE] = empty
    try:
        return import_module(f"{_PACKAGE}._ufuncs")
    except (ImportError, AttributeError):  # another version keeps them elsewhere
        pass
    finally:
        del sys.modules[_PACKAGE]
    return import_module(_PACKAGE)


_found = _functions()

bdtr = _found.bdtr
fdtrc = _found.fdtrc
gammaincc = _found.gammaincc
gammaln = _found.gammaln
log_ndtr = _found.log_ndtr
nctdtrit = _found.nctdtrit
ndtr = _found.ndtr
ndtri = _found.ndtri
ndtri_exp = _found.ndtri_exp
stdtr = _found.stdtr
stdtrit = _found.stdtrit
