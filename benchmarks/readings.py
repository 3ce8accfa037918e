"""Import, reduction and logging of readings: wall and processor seconds on this machine.

Targets on a quiet 2-core machine: import of a million lines < 5 s, reduction of a million raw
readings < 2 s, at least 50 readings a second acknowledged on the disk. Run it on a quiet machine.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import numpy as np

from clampwright import actions
from clampwright.bench.instruments.pretend_instrument import PretendInstrument
from clampwright.bench.pretend import demo_profiles
from clampwright.bench.reduce import reduce_readings
from clampwright.workspace.database import open_store
from clampwright.workspace.exchange import export_csv, import_csv
from clampwright.workspace.store import readings_of

LINES = 1_000_000
SECONDS = 5.0  # of logging
HEAD = (
    "part,wiring,state,reverse voltage (V),temperature (°C),light (lx),instrument,reading (mV),time"
)
READING = {"part": "pretend-diode", "wiring": "K/A", "reverse_voltage": "5 V"}
THREE = """[thermometer]
address = "ADDRESS"
read = "MEAS:TEMP?"
[light_meter]
address = "ADDRESS"
read = "MEAS:ILL?"
"""  # asked before every reading
Result = TypeVar("Result")


def session_text(lines: int) -> str:
    """A long invented sitting: zeros, a hundred conditions, zeros; every line with its own time."""
    random = np.random.default_rng(20261125)
    values = random.normal(0.01, 0.002, lines).round(5).tolist()
    zeros = lines // 20
    rows = [HEAD]
    for number, value in enumerate(values):
        clock = f"2026-11-25T{number // 200_000:02d}:{number // 3600 % 60:02d}:{number % 3600 / 60:09.6f}Z"
        if number < zeros or number >= lines - zeros:
            rows.append(f",,zero fixture,5,,,A1,{value},{clock}")
            continue
        condition = (number - zeros) * 100 // (lines - 2 * zeros)
        rows.append(
            f"npn-small,C/B+E,reading,5,{20 + condition / 4},0,A1,{value + 1 + condition},{clock}"
        )
    return "\n".join(rows)


def timed(what: str, work: Callable[[], Result], target: float | None) -> Result:
    """Run once and print wall and processor seconds."""
    wall, processor = time.perf_counter(), time.process_time()
    result = work()
    spent, used = time.perf_counter() - wall, time.process_time() - processor
    wanted = f"   target < {target:.0f} s" if target else ""
    print(f"{what:<48} {spent:6.2f} s wall {used:6.2f} s processor{wanted}")
    return result


def million(folder: Path) -> None:
    """Import, read back, reduce and export a million readings."""
    data = session_text(LINES).encode()
    print(f"{LINES} lines, {len(data) / 1e6:.0f} MB")
    with open_store(folder) as store:
        session = timed(
            "import of the CSV file into the database",
            lambda: import_csv(store, data, "long.csv", session="long"),
            5,
        )
        readings = timed("reading them back", lambda: readings_of(store, session), None)
        profiles = demo_profiles("orchard")
        leakages = timed("reduction", lambda: reduce_readings(readings, profiles, "long"), 2)
        print(f"{len(leakages)} leakages")
        timed("export as CSV", lambda: export_csv(store, session), None)


def logging(folder: Path, name: str, typed: dict[str, str], further: str = "") -> None:
    """Log the pretend instrument through the real driver into the database."""
    with PretendInstrument() as pretend:
        (folder / "instruments").mkdir(exist_ok=True)
        sheet = (
            f'id = "{name}"\nscale = "1 mV/nA"\ntolerance = "1 %"\nresolution = "1 µV"\n'
            f'[meter]\naddress = "{pretend.address}"\n{further.replace("ADDRESS", pretend.address)}'
        )
        (folder / "instruments" / f"{name}.toml").write_text(sheet, "utf-8")
        done = actions.log_readings(folder / name, typed, session=name, seconds=SECONDS)
    rate = done.count / done.seconds
    print(f"logging {name}, all acknowledged on the disk: {rate:.0f} readings/s   target ≥ 50")


def main() -> None:
    """Run all in a temporary folder."""
    with tempfile.TemporaryDirectory() as name:
        million(Path(name))
        logging(Path(name), "alone", {"state": "zero open"})
        logging(Path(name), "with-two-more", READING, THREE)


if __name__ == "__main__":
    main()
