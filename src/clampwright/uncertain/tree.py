"""The tree calculator, loaded without the numerical libraries that only its unused parts call.

It names two large libraries when it is imported and calls them in a few functions that nothing here
uses; each is put off until such a function asks for it. Part of `uncertain`.
"""

from __future__ import annotations

from importlib import import_module
from types import ModuleType
from typing import Any

import scipy

_PUT_OFF = ("special", "optimize")


class _Later(ModuleType):
    """Stands for a library until something of it is asked for."""

    def __getattr__(self, name: str) -> Any:
        return getattr(import_module(self.__name__), name)


def _loaded() -> Any:
    """The calculator."""
    missing = [name for name in _PUT_OFF if name not in vars(scipy)]
    for name in missing:
        setattr(scipy, name, _Later(f"{scipy.__name__}.{name}"))
    try:
        return import_module("GTC")
    finally:
        for name in missing:
            if isinstance(vars(scipy)[name], _Later):  # not where another thread has loaded it
                delattr(scipy, name)


_found = _loaded()

component = _found.component
constant = _found.constant
dof = _found.dof
label = _found.label
uncertainty = _found.uncertainty
ureal = _found.ureal
value = _found.value
