"""A meter described as text in an instrument sheet, so that its owner can change it without us.

The commands are those of the meter's own manual; IEEE 488.2 and SCPI-1999 name the common ones.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from clampwright.errors import InputError
from clampwright.quantities.fields import Time

Command = Annotated[str, Field(min_length=1, max_length=200)]
Terminator = Annotated[str, Field(min_length=1, max_length=2)]
LONGEST_TIMEOUT = 600.0  # [s]
_LOOPBACK = re.compile(r"TCPIP\d*::(127\.0\.0\.1|localhost)::", re.IGNORECASE)
_PLACE = re.compile(r"\{(\w+)\}")


class Meter(BaseModel):
    """How to reach a meter and what to ask it.

    Its answer times `scale` plus `offset` is volts (a meter), degrees Celsius (a thermometer) or
    lux (a light meter).
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    address: Annotated[str, Field(min_length=4, max_length=200)]
    read: Command = "READ?"
    set_up: Annotated[tuple[Command, ...], Field(max_length=50)] = ()
    identity: Annotated[str, Field(max_length=200)] = ""  # text that its *IDN? answer must contain
    reset: bool = False  # whether to send *RST before the set-up lines
    read_termination: Terminator = "\n"
    write_termination: Terminator = "\n"
    baud: Annotated[int, Field(ge=50, le=4_000_000)] = 9600  # serial lines only
    timeout: Annotated[Time, Field(gt=0, le=LONGEST_TIMEOUT)] = 5.0
    scale: Annotated[float, Field(allow_inf_nan=False)] = 1.0
    offset: Annotated[float, Field(allow_inf_nan=False)] = 0.0
    tell: Annotated[tuple[Command, ...], Field(max_length=20)] = ()  # to a pretend bench, each step

    @model_validator(mode="after")
    def _switch_nothing_real(self) -> Meter:
        """A guided session may arrange a pretend bench, never one that could hurt."""
        if self.tell and not _LOOPBACK.match(self.address):
            raise ValueError(
                "tell arranges a pretend bench on this computer (TCPIP::127.0.0.1::…); a real "
                "source is switched by hand"
            )
        return self

    @field_validator("read", "set_up", "tell", mode="after")
    @classmethod
    def _one_line(cls, value: str | tuple[str, ...]) -> str | tuple[str, ...]:
        for text in (value,) if isinstance(value, str) else value:
            if not text.isascii() or not text.isprintable():
                raise ValueError("a command is one line of plain characters")
        return value

    def told(self, bench: Mapping[str, str]) -> Meter:
        """The same meter with the `tell` lines among its set-up lines, each {name} filled in.

        InputError for a name that `bench` does not have.
        """

        def filled(match: re.Match[str]) -> str:
            if match[1] not in bench:
                raise InputError(
                    f"there is nothing called {match[0]}",
                    where="meter.tell",
                    expected=", ".join(f"{{{name}}}" for name in bench),
                )
            return bench[match[1]]

        lines = tuple(_PLACE.sub(filled, line) for line in self.tell)
        return self.model_copy(update={"set_up": (*self.set_up, *lines)})


__all__ = ["Meter"]
