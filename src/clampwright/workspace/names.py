"""What a session may be called."""

from __future__ import annotations

import re

from clampwright.errors import InputError

_NAME = re.compile(r"\w[\w .+-]{0,99}")


def must_name_a_session(name: str) -> None:
    """InputError for a name that no session can have."""
    if not _NAME.fullmatch(name) or name != name.strip():
        raise InputError(
            f'"{name[:40]}" cannot name a session',
            expected="1 to 100 letters, digits, blanks or . _ + -, beginning with a letter or digit",
        )


__all__ = ["must_name_a_session"]
