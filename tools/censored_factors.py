"""Make the table of tolerance factors for lots with hidden parts (bench/censored_factors.csv).

For n parts of a normal lot of which the r smallest are hidden below the smallest detected one's
nearest limit, mean and spread are estimated by maximum likelihood; K is the 95 % quantile of
(z_0.95 − mean)/spread. Run: python tools/censored_factors.py > src/clampwright/bench/censored_factors.csv
"""

import sys

import numpy as np
from scipy.special import ndtri

from clampwright.bench.censored import FEWEST_DETECTED, solve

DRAWS = 60_000
COUNTS = (4, 5, 6, 7, 8, 9, 10, 12, 15, 20, 25, 30)


def factor(count: int, hidden: int, seed: int) -> float:
    """The factor of one cell; the limit of hidden parts is the smallest detected value."""
    random = np.random.default_rng(seed)
    y = np.sort(random.normal(0.0, 1.0, (DRAWS, count)), axis=1)
    if hidden:
        y[:, :hidden] = y[:, hidden : hidden + 1]
    below = np.zeros_like(y, dtype=bool)
    below[:, :hidden] = True
    mean, spread = solve(y, below)
    return float(np.quantile((ndtri(0.95) - mean) / spread, 0.95))


def main() -> None:
    """Write the table as CSV."""
    print("parts,hidden,factor")
    for count in COUNTS:
        for hidden in range(count - FEWEST_DETECTED + 1):
            print(f"{count},{hidden},{factor(count, hidden, 1000 * count + hidden):.4f}")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
