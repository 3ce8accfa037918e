"""When the compiled kernels are loaded: a server answers its first page before. Part of `actions`."""

from __future__ import annotations

from clampwright.network.machine_code import load as load_kernels
from clampwright.network.machine_code import put_off as put_off_kernels

__all__ = ["load_kernels", "put_off_kernels"]
