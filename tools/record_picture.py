"""Take a picture of the top of a record for the README: light, 1200 pixels wide, below 300 kB.

Use: python tools/record_picture.py records/record.html docs/record.png
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

WIDTH, HEIGHT = 1000, 1270  # [CSS pixels]
SCALE = 1.2  # picture pixels to one CSS pixel
COLOURS = 64  # enough for ink, paper and a few accents
LARGEST = 300_000  # [byte]
BROWSERS = ("chromium", "chromium-browser")


def take_picture(record: Path, target: Path) -> None:
    """Write `target` (PNG); the browser runs without a window and in an empty profile."""
    browser = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if browser is None:
        sys.exit(f"no browser found; expected one of {', '.join(BROWSERS)} on the path")
    with tempfile.TemporaryDirectory() as profile:
        command = [
            browser,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--hide-scrollbars",
            f"--user-data-dir={profile}",
            f"--force-device-scale-factor={SCALE}",
            f"--window-size={WIDTH},{HEIGHT}",
            "--blink-settings=preferredColorScheme=1",
            f"--screenshot={target.resolve()}",
            record.resolve().as_uri(),
        ]
        subprocess.run(command, check=True, stderr=subprocess.DEVNULL)
    with Image.open(target) as picture:
        fewer = picture.convert("RGB").quantize(COLOURS)
    fewer.save(target, optimize=True)
    size = target.stat().st_size
    if size > LARGEST:
        sys.exit(f"{target} has {size} bytes; at most {LARGEST} are wanted")


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    take_picture(Path(sys.argv[1]), Path(sys.argv[2]))
