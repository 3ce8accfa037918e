"""What is loaded late or in part: the same functions, and nothing half loaded is left behind."""

import subprocess
import sys

import pytest


def run(code):
    """What a fresh process prints."""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return done.stdout.split()


def test_special_functions_are_those_of_the_package_loaded_later():
    names = run(
        "import sys\n"
        "from clampwright.uncertain import special as ours\n"
        "assert 'scipy.special' not in sys.modules\n"
        "import scipy.special, scipy.stats\n"
        "names = [n for n in vars(ours) if n.islower() and not n.startswith('_')]\n"
        "print(*(n for n in names if getattr(scipy.special, n, None) is getattr(ours, n)))\n"
        "assert abs(scipy.stats.t.ppf(0.975, 3) - ours.stdtrit(3, 0.975)) < 1e-12\n"
    )
    assert {"bdtr", "fdtrc", "ndtri", "nctdtrit", "stdtrit", "gammaincc"} <= set(names)


def test_special_functions_are_those_of_the_package_loaded_before():
    assert run(
        "import scipy.special\n"
        "from clampwright.uncertain import special as ours\n"
        "print(ours.stdtrit is scipy.special.stdtrit)\n"
    ) == ["True"]


def test_the_tree_calculator_finds_its_libraries_when_it_needs_them():
    assert run(
        "import sys, scipy\n"
        "from clampwright.uncertain import measured\n"
        "x = measured(1.0, 0.1, 5.0)\n"
        "print('scipy.optimize' in sys.modules, *(n in vars(scipy) for n in ('special', 'optimize')))\n"
        "import GTC\n"
        "print(round(GTC.reporting.k_factor(5.0), 3), 'scipy.special' in sys.modules)\n"
    ) == ["False", "False", "False", "2.571", "True"]


@pytest.mark.parametrize("first", ["scipy.optimize", "scipy.special"])
def test_a_library_that_was_there_first_stays(first):
    assert run(
        f"import {first}\n"
        "from clampwright.uncertain import measured\n"
        "measured(1.0, 0.1)\n"
        "import scipy.optimize, scipy.special\n"
        "print(scipy.optimize.brentq is not None, scipy.special.ndtri(0.5) == 0)\n"
    ) == ["True", "True"]
