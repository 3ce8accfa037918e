"""A meter described as text in an instrument sheet, so that its owner can change it without us.

The commands are those of the meter's own manual; IEEE 488.2 and SCPI-1999 name the common ones.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, field_validator

from clampwright.quantities.fields import Time

Command = Annotated[str, Field(min_length=1, max_length=200)]
Terminator = Annotated[str, Field(min_length=1, max_length=2)]
LONGEST_TIMEOUT = 600.0  # [s]


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

    @field_validator("read", "set_up", mode="after")
    @classmethod
    def _one_line(cls, value: str | tuple[str, ...]) -> str | tuple[str, ...]:
        for text in (value,) if isinstance(value, str) else value:
            if not text.isascii() or not text.isprintable():
                raise ValueError("a command is one line of plain characters")
        return value


__all__ = ["Meter"]
