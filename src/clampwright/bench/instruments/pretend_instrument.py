"""A pretend instrument on a socket of this computer: speaks SCPI, measures a hidden law, misbehaves.

Start it with `python -m clampwright.bench.instruments.pretend_instrument` and log it like a meter;
with `--demo orchard` the parts of that demonstration can be fitted, for a guided session. It answers
only on the loopback address. Everything it shows is invented.

The usual words: *IDN? *RST *CLS *OPC? *ESR? *STB? *WAI, SYSTem:ERRor?, CONFigure:VOLTage:DC,
VOLTage:DC:NPLCycles, READ?, FETCh?, MEASure:VOLTage:DC?, MEASure:TEMPerature? (°C),
MEASure:ILLuminance? (lx). What lies on the bench: BENCh:BIAS (V), BENCh:TEMPerature (°C),
BENCh:LIGHt (lx), BENCh:FITTed 0|1, BENCh:PART id wiring (of the demonstration), BENCh:KNOWn (A, in
place of a part), BENCh:SOAKage (A for each volt, one second after a step of the bias). What goes wrong
with the next n answers: TROUble:DELay seconds,
TROUble:GARBle n, TROUble:DROP n, TROUble:DISConnect n, TROUble:OVERload n; TROUble:AWAY seconds
hangs up and stays away; TROUble:NONE.
"""

from __future__ import annotations

import argparse
import re
import socket
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from clampwright.bench.pretend import HiddenPart, demo_truth, true_leakage

LOOPBACK = "127.0.0.1"
IDENTITY = "Clampwright,Pretend Instrument,0,1"
SCALE = 1e6  # [V/A] 1 mV/nA, as the adapter in front of the meter
ZERO = 30e-6  # [V]
SCATTER = 2e-6  # [V] of one reading
FULL_SCALE = 12.0  # [V] beyond it the meter says overload
SOAKAGE_EXPONENT = 0.9  # [1] of t^(−m), Curie–von Schweidler
OVERLOAD = "9.9E+37"
LONGEST_LINE = 4096
HIDDEN = HiddenPart(
    part="pretend-diode",
    wiring="K/A",
    leakage=2e-9,
    activation_energy=0.62,
    reverse_exponent=0.3,
    ideality=1.8,
    responsivity=4e-12,
)  # 2 nA at 5 V and 23 °C, 4 pA/lx


@dataclass
class _Bench:
    """What lies on the bench, and what goes wrong next."""

    bias: float = 5.0  # [V] reverse
    temperature: float = 23.0  # [°C]
    light: float = 0.0  # [lx]
    fitted: bool = True
    known: float = 0.0  # [A]
    soakage: float = 0.0  # [A/V] one second after a step
    stepped: tuple[float, float] = (0.0, 0.0)  # [V] and when [s], monotonic
    delay: float = 0.0  # [s]
    troubles: Counter[str] = field(default_factory=Counter)
    away_until: float = 0.0  # [s] monotonic
    complaints: list[str] = field(default_factory=list)


class PretendInstrument:
    """The server; use it as a context manager or call `start` and `stop`."""

    def __init__(
        self,
        port: int = 0,
        seed: int = 1,
        *,
        parts: Sequence[HiddenPart] = (HIDDEN,),
        scale: float = SCALE,
        zero: float = ZERO,
        scatter: float = SCATTER,
        pace: float = 0.0,
    ) -> None:
        """port : TCP port, 0 for a free one (see `port`); seed : of the noise; parts : the drawer.

        scale (V/A), zero (V), scatter (V, standard deviation of one reading) : of the adapter
        pace : s that one reading takes
        """
        self._drawer = {(p.part, p.wiring): p for p in parts}
        self._part = parts[0]
        self._scale, self._zero, self._scatter, self._pace = scale, zero, scatter, pace
        self._random = np.random.default_rng(seed)
        self._bench = _Bench()
        self._lock = threading.RLock()
        self._wires: set[socket.socket] = set()
        self._listening = socket.create_server((LOOPBACK, port))
        self._threads: list[threading.Thread] = []
        self._stopped = threading.Event()
        self.port: int = self._listening.getsockname()[1]

    @property
    def address(self) -> str:
        """The VISA address of the instrument."""
        return f"TCPIP::{LOOPBACK}::{self.port}::SOCKET"

    def __enter__(self) -> PretendInstrument:
        """Start."""
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop."""
        self.stop()

    def start(self) -> None:
        """Listen in threads of its own."""
        self._run(self._accept)

    def stop(self) -> None:
        """Hang up and wait for the threads."""
        self._stopped.set()
        with self._lock:
            self._listening.close()
            self._hang_up()
        for thread in self._threads:
            thread.join(timeout=5)

    def do(self, line: str) -> str | None:
        """Carry out one line as if it came over the wire; the answer, if it is a question."""
        with self._lock:
            answers = [self._one(part.strip()) for part in line.split(";") if part.strip()]
        found = [answer for answer in answers if answer is not None]
        return ";".join(found) if found else None

    def _run(self, work: Callable[[], None]) -> None:
        thread = threading.Thread(target=work, daemon=True)
        self._threads.append(thread)
        thread.start()

    def _accept(self) -> None:
        self._listening.settimeout(0.1)
        while not self._stopped.is_set():
            try:
                wire, _ = self._listening.accept()
            except TimeoutError:
                continue
            except OSError:
                return
            with self._lock:
                if time.monotonic() < self._bench.away_until:
                    wire.close()
                    continue
                self._wires.add(wire)
            self._run(lambda wire=wire: self._serve(wire))  # type: ignore[misc]

    def _serve(self, wire: socket.socket) -> None:
        wire.settimeout(None)
        wire.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        try:
            with wire, wire.makefile("rb") as lines:
                while line := lines.readline(LONGEST_LINE):
                    answer = self.do(line.decode("latin-1").strip())
                    if answer is not None:
                        self._answer(wire, answer)
        except OSError:
            return
        finally:
            with self._lock:
                self._wires.discard(wire)

    def _answer(self, wire: socket.socket, answer: str) -> None:
        with self._lock:
            delay, trouble = self._bench.delay, self._next_trouble()
        if delay:
            self._stopped.wait(delay)
        if trouble == "DROP":
            return
        if trouble == "DISC":
            wire.sendall(answer[: len(answer) // 2].encode("latin-1"))
            raise ConnectionResetError
        if trouble == "GARB":
            answer = "".join(chr((ord(letter) * 7 + 13) % 95 + 160) for letter in answer)
        if trouble == "OVER":
            answer = OVERLOAD
        wire.sendall(f"{answer}\n".encode("latin-1"))

    def _next_trouble(self) -> str:
        for kind, left in self._bench.troubles.items():
            if left > 0:
                self._bench.troubles[kind] -= 1
                return kind
        return ""

    def _hang_up(self) -> None:
        for wire in self._wires:
            try:
                wire.shutdown(socket.SHUT_RDWR)
            except OSError:
                continue

    def _one(self, command: str) -> str | None:
        head, _, argument = command.partition(" ")
        for pattern, act in _COMMANDS:
            if pattern.fullmatch(head):
                try:
                    return act(self, argument.strip())
                except ValueError:
                    self._bench.complaints.append(f'-104,"Data type error: {command[:40]}"')
                    return None
        self._bench.complaints.append(f'-113,"Undefined header: {command[:40]}"')
        return None

    def _volts(self) -> float:
        bench = self._bench
        current = bench.known
        if bench.fitted:
            kelvin = bench.temperature + 273.15
            current += true_leakage(self._part, bench.bias, kelvin, bench.light)
        step, since = bench.stepped
        seconds = max(time.monotonic() - since, 0.01)
        current += bench.soakage * step * seconds**-SOAKAGE_EXPONENT
        noise = float(self._random.normal(0.0, self._scatter))
        return float(self._scale * current + self._zero + noise)

    def _read(self, _: str) -> str:
        if self._pace:
            self._stopped.wait(self._pace)
        volts = self._volts()
        return f"{volts:+.7E}" if abs(volts) < FULL_SCALE else OVERLOAD

    def _fit(self, argument: str) -> None:
        part, _, wiring = argument.partition(" ")
        found = self._drawer.get((part, wiring))
        if found is None:
            raise ValueError("the drawer holds no such part")
        self._part = found

    def _apply(self, argument: str) -> None:
        volts = float(argument)
        if volts != self._bench.bias:
            self._bench.stepped = (volts - self._bench.bias, time.monotonic())
        self._bench.bias = volts

    def _complaint(self, _: str) -> str:
        return self._bench.complaints.pop(0) if self._bench.complaints else '+0,"No error"'

    def _status(self, _: str) -> str:
        return "32" if self._bench.complaints else "0"

    def _clear(self, _: str) -> None:
        self._bench.complaints.clear()

    def _set(self, name: str, argument: str) -> None:
        setattr(self._bench, name, float(argument))

    def _trouble(self, kind: str, argument: str) -> None:
        self._bench.troubles[kind] = int(argument or 1)

    def _away(self, argument: str) -> None:
        self._bench.away_until = time.monotonic() + float(argument)
        self._hang_up()

    def _no_trouble(self, _: str) -> None:
        self._bench.troubles.clear()
        self._bench.delay = self._bench.away_until = 0.0


_Act = Callable[[PretendInstrument, str], str | None]


def _header(text: str) -> re.Pattern[str]:
    """A SCPI header that may be written short (its capitals) or long, in any case."""
    nodes = []
    for node in text.rstrip("?").split(":"):
        short = re.match(r"[*A-Z]+", node)
        assert short
        rest = node[short.end() :]
        nodes.append(re.escape(short[0]) + (f"(?:{rest})?" if rest else ""))
    ending = r"\?" if text.endswith("?") else ""
    return re.compile(":?" + ":".join(nodes) + ending, re.IGNORECASE)


def _nothing(_: PretendInstrument, __: str) -> None:
    return None


_COMMANDS: Sequence[tuple[re.Pattern[str], _Act]] = [
    (_header(text), act)
    for text, act in (
        ("*IDN?", lambda self, _: IDENTITY),
        ("*OPC?", lambda self, _: "1"),
        ("*ESR?", PretendInstrument._status),
        ("*STB?", PretendInstrument._status),
        ("*TST?", lambda self, _: "0"),
        ("*CLS", PretendInstrument._clear),
        ("*RST", _nothing),
        ("*WAI", _nothing),
        ("SYSTem:ERRor?", PretendInstrument._complaint),
        ("CONFigure:VOLTage:DC", _nothing),
        ("VOLTage:DC:NPLCycles", lambda self, argument: _check(argument)),
        ("READ?", PretendInstrument._read),
        ("FETCh?", PretendInstrument._read),
        ("MEASure:VOLTage:DC?", PretendInstrument._read),
        ("MEASure:TEMPerature?", lambda self, _: f"{self._bench.temperature:+.4E}"),
        ("MEASure:ILLuminance?", lambda self, _: f"{self._bench.light:+.4E}"),
        ("BENCh:BIAS", PretendInstrument._apply),
        ("BENCh:PART", PretendInstrument._fit),
        ("BENCh:KNOWn", lambda self, argument: self._set("known", argument)),
        ("BENCh:SOAKage", lambda self, argument: self._set("soakage", argument)),
        ("BENCh:TEMPerature", lambda self, argument: self._set("temperature", argument)),
        ("BENCh:LIGHt", lambda self, argument: self._set("light", argument)),
        ("BENCh:FITTed", lambda self, argument: self._set("fitted", argument)),
        ("TROUble:DELay", lambda self, argument: self._set("delay", argument)),
        ("TROUble:GARBle", lambda self, argument: self._trouble("GARB", argument)),
        ("TROUble:DROP", lambda self, argument: self._trouble("DROP", argument)),
        ("TROUble:DISConnect", lambda self, argument: self._trouble("DISC", argument)),
        ("TROUble:OVERload", lambda self, argument: self._trouble("OVER", argument)),
        ("TROUble:AWAY", PretendInstrument._away),
        ("TROUble:NONE", PretendInstrument._no_trouble),
    )
]


def _check(argument: str) -> None:
    float(argument)


def demo_bench(name: str, port: int = 0, seed: int = 1, pace: float = 0.05) -> PretendInstrument:
    """A bench with the parts of a demonstration behind an adapter of 1 mV/pA (its sheet P1)."""
    return PretendInstrument(
        port, seed, parts=demo_truth(name).parts, scale=1e9, zero=140e-6, scatter=20e-6, pace=pace
    )


def _asked_for(port: int, seed: int, demo: str) -> PretendInstrument:
    return demo_bench(demo, port, seed) if demo else PretendInstrument(port, seed)


def main(arguments: Sequence[str] | None = None) -> None:
    """Serve until interrupted from the keyboard."""
    parser = argparse.ArgumentParser(description="A pretend instrument on a socket; all invented.")
    parser.add_argument("--port", type=int, default=5025, help="TCP port (default 5025)")
    parser.add_argument("--seed", type=int, default=1, help="of the noise")
    parser.add_argument("--demo", default="", help="fit the parts of this demonstration")
    chosen = parser.parse_args(arguments)
    with _asked_for(chosen.port, chosen.seed, chosen.demo) as instrument:
        sys.stdout.write(f"The pretend instrument listens at {instrument.address}\n")
        sys.stdout.flush()
        try:
            threading.Event().wait()
        except KeyboardInterrupt:
            return


if __name__ == "__main__":
    main()


__all__ = ["HIDDEN", "SCALE", "SCATTER", "ZERO", "PretendInstrument", "demo_bench", "main"]
