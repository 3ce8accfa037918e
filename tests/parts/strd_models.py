"""Model functions of the NIST StRD nonlinear data sets, and their slopes by the complex step.

The complex step f'(b) = Im f(b + i·h)/h has no subtraction and is exact to rounding (Squire and
Trapp 1998), so no derivative is written out by hand.
"""

from __future__ import annotations

import json
from math import pi
from pathlib import Path

import numpy as np

DATA = Path(__file__).parents[1] / "data" / "nist_strd_nonlinear.json"
SETS = json.loads(DATA.read_text(encoding="utf-8"))["datasets"]
STEP = 1e-30


def gauss(b, x):
    return (
        b[0] * np.exp(-b[1] * x)
        + b[2] * np.exp(-((x - b[3]) ** 2) / b[4] ** 2)
        + b[5] * np.exp(-((x - b[6]) ** 2) / b[7] ** 2)
    )


def enso(b, x):
    year = b[0] + b[1] * np.cos(2 * pi * x / 12) + b[2] * np.sin(2 * pi * x / 12)
    first = b[4] * np.cos(2 * pi * x / b[3]) + b[5] * np.sin(2 * pi * x / b[3])
    return year + first + b[7] * np.cos(2 * pi * x / b[6]) + b[8] * np.sin(2 * pi * x / b[6])


def lanczos(b, x):
    return sum(b[2 * i] * np.exp(-b[2 * i + 1] * x) for i in range(3))


MODELS = {
    "Bennett5": lambda b, x: b[0] * (b[1] + x) ** (-1 / b[2]),
    "Chwirut1": lambda b, x: np.exp(-b[0] * x) / (b[1] + b[2] * x),
    "Chwirut2": lambda b, x: np.exp(-b[0] * x) / (b[1] + b[2] * x),
    "DanWood": lambda b, x: b[0] * x ** b[1],
    "ENSO": enso,
    "Eckerle4": lambda b, x: (b[0] / b[1]) * np.exp(-0.5 * ((x - b[2]) / b[1]) ** 2),
    "Gauss1": gauss,
    "Gauss2": gauss,
    "Gauss3": gauss,
    "Kirby2": lambda b, x: (b[0] + b[1] * x + b[2] * x**2) / (1 + b[3] * x + b[4] * x**2),
    "Lanczos1": lanczos,
    "Lanczos2": lanczos,
    "Lanczos3": lanczos,
    "MGH09": lambda b, x: b[0] * (x**2 + x * b[1]) / (x**2 + x * b[2] + b[3]),
    "MGH17": lambda b, x: b[0] + b[1] * np.exp(-x * b[3]) + b[2] * np.exp(-x * b[4]),
    "Misra1a": lambda b, x: b[0] * (1 - np.exp(-b[1] * x)),
    "Misra1b": lambda b, x: b[0] * (1 - (1 + b[1] * x / 2) ** -2.0),
    "Misra1c": lambda b, x: b[0] * (1 - (1 + 2 * b[1] * x) ** -0.5),
    "Misra1d": lambda b, x: b[0] * b[1] * x / (1 + b[1] * x),
    "Nelson": lambda b, x, z: b[0] - b[1] * x * np.exp(-b[2] * z),
    "Rat42": lambda b, x: b[0] / (1 + np.exp(b[1] - b[2] * x)),
    "Roszman1": lambda b, x: b[0] - b[1] * x - np.arctan(b[2] / (x - b[3])) / pi,
    "Thurber": lambda b, x: (
        (b[0] + b[1] * x + b[2] * x**2 + b[3] * x**3) / (1 + b[4] * x + b[5] * x**2 + b[6] * x**3)
    ),
}


def problem(name):
    """Residuals and Jacobian of a data set as functions of its parameters."""
    table = np.array(SETS[name]["rows"], float)
    measured, where = table[:, 0], table[:, 1:].T
    if name == "Nelson":  # the certified model is of log y
        measured = np.log(measured)
    model = MODELS[name]

    def residuals(b):
        return np.asarray(model(np.asarray(b, float), *where), float) - measured

    def jacobian(b):
        columns = []
        for i in range(len(b)):
            moved = np.asarray(b, complex)
            moved[i] += 1j * STEP
            columns.append(np.imag(model(moved, *where)) / STEP)
        return np.array(columns).T

    return residuals, jacobian
