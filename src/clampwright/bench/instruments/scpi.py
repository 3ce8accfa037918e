"""Speak to a meter in the words of IEEE 488.2 and SCPI through any transport.

Numbers beyond 9.9E+36 mean overload or "not a number" there (SCPI-1999, volume 1, 7.2.1.4 and
7.2.1.5, from memory); they are never taken for a reading.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Protocol

from clampwright.bench.instruments.meter import Meter
from clampwright.errors import ClampwrightError, InputError

OVERLOAD = 9.8e37  # [1] SCPI writes infinity as 9.9E+37 and "not a number" as 9.91E+37
MOST_ERRORS = 20  # read from an error queue before giving up
_NUMBER = re.compile(r"\s*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:\s?[eE]\s?[+-]?[0-9]{1,3})?)\s*")
_NO_ERROR = re.compile(r"[+-]?0+\s*(,|$)")
_LONGEST_SHOWN = 40


class Disconnected(ClampwrightError):
    """The wire is gone, or the instrument did not answer in time."""

    exit_code = 64


class Garbled(ClampwrightError):
    """The instrument answered something that is no number."""

    exit_code = 64


class Overloaded(ClampwrightError):
    """The instrument says that its range is exceeded."""

    exit_code = 64


class Transport(Protocol):
    """A wire to an instrument; terminations and time-out are its own business.

    Every method raises Disconnected when the wire is gone or the time is up.
    """

    def write(self, line: str) -> None:
        """Send one line."""

    def read(self) -> str:
        """The next line without its termination."""

    def close(self) -> None:
        """Let go of the wire; never raises."""


@dataclass(frozen=True)
class Instrument:
    """A meter on a wire, set up and ready to be read."""

    meter: Meter
    transport: Transport
    identity: str

    def value(self) -> float:
        """One reading in the unit the sheet scales to.

        Raises Garbled for an answer that is no number, Overloaded beyond the range, Disconnected.
        """
        answer = ask(self.transport, self.meter.read)
        return number(answer, self.meter.address) * self.meter.scale + self.meter.offset

    def close(self) -> None:
        """Let go of the wire."""
        self.transport.close()


def set_up(meter: Meter, transport: Transport) -> Instrument:
    """Clear an instrument, check who it is, send its set-up lines and ask whether it took them.

    Raises InputError for another instrument than expected or a refused line; Disconnected.
    """
    transport.write("*CLS")
    identity = ask(transport, "*IDN?")
    if meter.identity not in identity:
        raise InputError(
            f'another instrument answers: "{identity[:100]}"',
            where=meter.address,
            expected=f'an identity with "{meter.identity}"',
        )
    if meter.reset:
        transport.write("*RST")
    for line in meter.set_up:
        transport.write(line)
    if ask(transport, "*OPC?").strip() not in ("1", "+1"):
        raise InputError("the instrument does not say that it is ready", where=meter.address)
    if complaints := errors(transport):
        raise InputError(
            f"the instrument refused a set-up line: {complaints[0][:100]}",
            where=meter.address,
            mend="compare the set-up lines of its sheet with its manual",
        )
    return Instrument(meter, transport, identity)


def ask(transport: Transport, question: str) -> str:
    """Send a question and wait for its answer."""
    transport.write(question)
    return transport.read()


def errors(transport: Transport) -> list[str]:
    """Empty the error queue; no entry when all is well."""
    found: list[str] = []
    while len(found) < MOST_ERRORS:
        answer = ask(transport, "SYST:ERR?").strip()
        if _NO_ERROR.match(answer):
            break
        found.append(answer)
    return found


def number(answer: str, where: str) -> float:
    """The number an answer begins with; a unit or further fields may follow after a comma."""
    match = _NUMBER.fullmatch(answer.split(",")[0])
    if match is None:
        raise Garbled(f'the answer "{answer[:_LONGEST_SHOWN]}" is no number', where=where)
    value = float(match[1].replace(" ", ""))
    if abs(value) >= OVERLOAD:
        raise Overloaded("the meter says overload", where=where, mend="choose a higher range")
    return value


__all__ = [
    "Disconnected",
    "Garbled",
    "Instrument",
    "Overloaded",
    "Transport",
    "ask",
    "errors",
    "number",
    "set_up",
]
