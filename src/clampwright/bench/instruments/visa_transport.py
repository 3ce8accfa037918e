"""A wire to an instrument by PyVISA: socket, VXI-11, HiSLIP or serial line.

Nothing here looks for instruments by itself: listing them would broadcast on the network.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from clampwright.bench.instruments.meter import Meter
from clampwright.bench.instruments.scpi import Disconnected
from clampwright.errors import InputError

if TYPE_CHECKING:
    from pyvisa import ResourceManager

EXAMPLES = "TCPIP::host::port::SOCKET, TCPIP::host::INSTR, TCPIP::host::hislip0::INSTR, ASRL/dev/…"
MEND = "check power, cable and address"
OPENING = 5.0  # [s] to open a connection


class VisaTransport:
    """One open resource; both terminations are set, because a socket hangs without them."""

    def __init__(self, resource: Any, address: str) -> None:
        """resource : an open message-based PyVISA resource."""
        self._resource = resource
        self._address = address

    def write(self, line: str) -> None:
        """Send one line."""
        try:
            self._resource.write(line)
        except Exception as error:
            raise self._lost(error) from None

    def read(self) -> str:
        """The next line without its termination; bytes that are no ASCII come as �."""
        try:
            return str(self._resource.read(encoding="latin-1"))
        except Exception as error:
            raise self._lost(error) from None

    def close(self) -> None:
        """Let go of the resource."""
        try:
            self._resource.close()
        except Exception:  # the wire may be gone already, and in any way a driver can think of
            return

    def _lost(self, error: Exception) -> Disconnected:
        late = "TMO" in str(getattr(error, "abbreviation", "")) or "timeout" in str(error).lower()
        wrong = "no answer in time" if late else "the connection is lost"
        return Disconnected(wrong, where=self._address, mend=MEND)


def open_visa(meter: Meter) -> VisaTransport:
    """Open the wire that a meter's sheet names.

    Raises InputError for an address that means nothing or a missing driver, Disconnected when it
    cannot be opened; the driver opens a socket even where nobody listens, then the first line fails.
    """
    manager = _manager()
    kind = _resource_class(meter.address)
    try:
        resource: Any = manager.open_resource(
            meter.address, open_timeout=round(OPENING * 1000), timeout=round(meter.timeout * 1000)
        )
        resource.read_termination = meter.read_termination
        resource.write_termination = meter.write_termination
        if meter.address.upper().startswith("ASRL"):
            resource.baud_rate = meter.baud
    except Exception as error:
        text = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise Disconnected(
            f"the instrument cannot be reached ({kind}): {text[:160]}",
            where=meter.address,
            mend=MEND,
        ) from None
    return VisaTransport(resource, meter.address)


def _resource_class(address: str) -> str:
    from pyvisa import rname

    try:
        return str(rname.ResourceName.from_string(address).resource_class)
    except rname.InvalidResourceName:
        raise InputError(
            f'"{address}" is no instrument address', where="address", expected=EXAMPLES
        ) from None


def _manager() -> ResourceManager:
    try:
        import pyvisa
        import pyvisa_py  # noqa: F401
    except ImportError:
        raise InputError(
            "the driver for instruments is not installed",
            mend='install it with: pip install "clampwright[bench]"',
        ) from None
    return pyvisa.ResourceManager("@py")


__all__ = ["VisaTransport", "open_visa"]
