"""One small tree of errors: a sentence that says what was wrong, where, what to expect and mend.

Floor 0; imports nothing of ours.
"""

from __future__ import annotations


class ClampwrightError(Exception):
    """Base of every error a user may see; `exit_code` is what the command line returns."""

    exit_code = 70

    def __init__(self, wrong: str, *, where: str = "", expected: str = "", mend: str = "") -> None:
        self.wrong, self.where, self.expected, self.mend = wrong, where, expected, mend
        super().__init__(self.sentence())

    def sentence(self) -> str:
        """The whole message as one sentence: `where: what was wrong; expected …; mend`."""
        text = f"{self.where}: {self.wrong}" if self.where else self.wrong
        if self.expected:
            text += f"; expected {self.expected}"
        if self.mend:
            text += f"; {self.mend}"
        return text + ("" if text.endswith(".") else ".")


class InputError(ClampwrightError):
    """Something the user wrote cannot be used (exit code 64)."""

    exit_code = 64


class ConflictError(InputError):
    """The file was changed elsewhere since it was read; nothing was written (exit code 64)."""


class InternalError(ClampwrightError):
    """Our own fault, for example a solution that did not converge (exit code 70)."""
