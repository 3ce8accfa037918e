"""Elimination without subtraction against 60 digits, where ordinary elimination loses digits.

Source of the method: Alfa, Xue and Ye, Math. Comp. 71 (2002).
"""

import mpmath
import numpy as np
import pytest
from mpmath import mpf

from clampwright.network.linear import solve_without_subtraction

NETWORKS = 300


def floating_network(random):
    """Couplings 1e-9…1e2 S between 2…7 nodes in one piece, leaks 1e-16…1e-10 S to ground."""
    n = int(random.integers(2, 8))
    coupling = np.zeros((n, n))
    for i in range(1, n):
        j = int(random.integers(0, i))
        coupling[i, j] = coupling[j, i] = 10 ** random.uniform(-9, 2)
    for _ in range(n):
        i, j = random.choice(n, 2, replace=False)
        coupling[i, j] = coupling[j, i] = 10 ** random.uniform(-9, 2)
    excess = np.zeros(n)
    leaking = random.choice(n, int(random.integers(1, n + 1)), replace=False)
    excess[leaking] = 10 ** random.uniform(-16, -10, leaking.size)
    injected = 10 ** random.uniform(-15, -9, n)
    return coupling, excess, injected


def in_60_digits(coupling, excess, injected):
    n = excess.size
    matrix = mpmath.matrix(n, n)
    for i in range(n):
        for j in range(n):
            if i != j:
                matrix[i, j] = -mpf(coupling[i, j])
        matrix[i, i] = mpf(excess[i]) + sum(mpf(coupling[i, j]) for j in range(n) if j != i)
    return mpmath.lu_solve(matrix, mpmath.matrix([mpf(b) for b in injected]))


def worst(found, expected):
    return max(float(abs(mpf(float(f)) / e - 1)) for f, e in zip(found, expected, strict=True))


def test_floating_networks_keep_their_digits():
    random = np.random.default_rng(20261125)
    ours, ordinary = [], []
    with mpmath.workdps(60):
        for _ in range(NETWORKS):
            coupling, excess, injected = floating_network(random)
            expected = in_60_digits(coupling, excess, injected)
            ours.append(
                worst(
                    solve_without_subtraction(coupling[None], excess[None], injected[None])[0],
                    expected,
                )
            )
            nodal = np.diag(excess + coupling.sum(axis=1)) - coupling
            try:
                ordinary.append(worst(np.linalg.solve(nodal, injected), expected))
            except np.linalg.LinAlgError:  # the leak vanished beside the couplings
                ordinary.append(np.inf)
    assert max(ours) < 1e-14
    assert np.median(ordinary) > 1e-8
    assert max(ordinary) > 0.1


def test_one_sided_couplings_agree_with_60_digits():
    """A follower couples one way only; the matrix is then not symmetric."""
    random = np.random.default_rng(5)
    with mpmath.workdps(60):
        for _ in range(50):
            coupling, excess, injected = floating_network(random)
            coupling *= random.integers(0, 2, coupling.shape)
            excess = excess + 10 ** random.uniform(-14, -8, excess.size)
            found = solve_without_subtraction(coupling[None], excess[None], injected[None])[0]
            assert worst(found, in_60_digits(coupling, excess, injected)) < 1e-14


def test_a_node_without_conductance_stays_at_zero():
    nothing = np.zeros((1, 2, 2))
    found = solve_without_subtraction(nothing, np.array([[1e-12, 0.0]]), np.array([[1e-12, 1.0]]))
    assert found[0] == pytest.approx([1.0, 0.0], rel=1e-9, abs=0)


def test_the_inputs_are_left_alone():
    coupling, excess, injected = floating_network(np.random.default_rng(1))
    given = coupling[None].copy(), excess[None].copy(), injected[None].copy()
    solve_without_subtraction(*given)
    assert np.array_equal(given[0][0], coupling)
    assert np.array_equal(given[1][0], excess)
    assert np.array_equal(given[2][0], injected)
