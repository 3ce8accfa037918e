"""The protection circuits written a second time, by hand and in 50 digits.

Nothing of the package's solver is used: one junction law straight from its textbook equation and,
for each topology, one equation in one unknown whose root is bracketed. The error is an unknown of
its own, never a difference of two node voltages.
"""

from mpmath import expm1, findroot, mp, mpf

DIGITS = 50
mp.dps = DIGITS
THERMAL = mpf("1.380649e-23") / mpf("1.602176634e-19")  # [V/K] SI 2019


class Junction:
    """I(V) of one junction: diffusion, generation with depletion widening, film, photocurrent.

    Source: Shockley 1949 (diffusion); Sah, Noyce and Shockley 1957 (generation).
    """

    def __init__(self, state):
        self.p = {name: mpf(float(value)) for name, value in vars(state).items()}

    def __call__(self, voltage):
        p, v = self.p, mpf(voltage)
        width = (1 + max(-v, 0) / p["built_in_voltage"]) ** p["grading"]
        diffusion = expm1(v / (p["diffusion_ideality"] * p["thermal_voltage"]))
        generation = width * expm1(v / (p["generation_ideality"] * p["thermal_voltage"]))
        return (
            p["diffusion_current"] * diffusion
            + p["generation_current"] * generation
            + p["film_conductance"] * v
            - p["photocurrent"]
        )


def root(equation, low, high):
    """Root of a monotone equation between two brackets, to 45 digits or so."""
    low, high = mpf(low), mpf(high)
    for _ in range(120):  # halving first, so that the final method starts inside its basin
        middle = (low + high) / 2
        if (equation(low) > 0) == (equation(middle) > 0):
            low = middle
        else:
            high = middle
    return findroot(equation, (low, high), solver="anderson", tol=mpf(10) ** -90, verify=False)


def rail_clamp_error(signal, rails, upper, lower, series, inner, bias):
    """Error at the pin of T2 (inner = 0) or T6: clamps to the rails, bias into the pin (A)."""
    signal, series, inner, bias = (mpf(x) for x in (signal, series, inner, bias))
    positive, negative = (mpf(r) for r in rails)

    def balance(error):
        node = signal + error
        net = lower(negative - node) - upper(node - positive) + bias
        return error - series * net

    node_error = root(balance, negative - signal - 2, positive - signal + 2)
    return node_error + inner * bias


def guard_error(signal, pair, series, inner, guard, gain, offset, bias):
    """Error at the pin of T5: an antiparallel pair to a follower of the pin (gain, offset)."""
    signal, series, inner, guard, gain, offset, bias = (
        mpf(x) for x in (signal, series, inner, guard, gain, offset, bias)
    )
    forward, backward = pair

    def through(across):
        return forward(across) - backward(-across)

    def balance(across):
        current = through(across)
        node_error = series * (bias - current)
        pin = signal + node_error + inner * bias
        end = gain * pin + offset + guard * current
        return across - (signal + node_error - end)

    across = root(balance, -5, 5)
    return series * (bias - through(across)) + inner * bias
