"""Clampwright: protect a precision analog input without spoiling it.

Rooms and the arrows between them are drawn in ARCHITECTURE.md; a test walks the imports.
"""

__version__ = "0.1.0"
