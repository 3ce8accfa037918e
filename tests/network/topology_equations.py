"""Kirchhoff's current law of every topology, written by hand, for 50 digits and for doubles.

Nothing of the package's circuits is used. Each function takes the node voltages and a case (numbers
and laws) and returns the currents (A) that do not add up, one per node. `error` says what the answer
is. The same text serves mpmath numbers and floats.
"""

from types import SimpleNamespace

from mpmath import lu_solve, matrix, mp, mpf
from nodal_reference import Junction

from clampwright.physics.clamp import current_and_slope

# unknown node voltages of each topology, in the order of its equations
NODES = {
    "T1": ("connector", "clamp node", "pin"),
    "T2": ("connector", "clamp node", "pin"),
    "T3": ("connector", "clamp node", "pin"),
    "T4": ("connector", "clamp node", "pin", "output"),
    "T5": ("connector", "clamp node", "pin", "guarded end"),
    "T6": ("connector", "clamp node", "pin"),
    "T7": ("connector", "limited node", "clamp node", "pin"),
    "T8": ("connector", "clamp node", "pin"),
    "T9": ("connector", "clamp node", "pin", "middle"),
    "T10": ("connector", "behind the fuse", "clamp node", "pin"),
    "T11": ("connector", "behind the contact", "clamp node", "pin"),
    "T12": ("connector", "clamp node", "pin"),
    "T13": ("connector", "output"),
    "T14": ("connector", "clamp node", "pin", "guarded end"),
    "T15": ("connector plus", "pin plus", "connector minus", "pin minus"),
    "T16": ("connector", "clamp node", "pin"),
    "T17": ("connector", "clamp node", "pin", "forward node 1", "backward node 1"),
    "T18": ("connector", "clamp node", "pin"),
}


def _line(c, connector, node, pin, leaving, lost=0):
    """Connector, clamp node and pin of a plain line whose clamp node loses `leaving`."""
    into_node = (connector - node) / c.outer
    into_pin = (node - pin) / c.inner
    return [
        (c.signal - connector) / c.source - lost - into_node,
        into_node - into_pin - leaving,
        into_pin + c.bias,
    ]


def _rails(c, node):
    return c.upper(node - c.positive) - c.lower(c.negative - node)


def t1(x, c):
    return _line(c, *x, 0)


def t2(x, c):
    return _line(c, *x, _rails(c, x[1]))


def t3(x, c):
    return _line(c, *x, c.upper(x[1] - c.clamp_positive) - c.lower(c.clamp_negative - x[1]))


def t4(x, c):
    connector, node, pin, output = x
    other = pin + c.offset
    through = c.forward(node - other) - c.backward(other - node)
    feedback = (output - other) / c.feedback + through + c.other_bias
    return [*_line(c, connector, node, pin, through), feedback]


def t5(x, c):
    connector, node, pin, end = x
    through = c.forward(node - end) - c.backward(end - node)
    return [
        *_line(c, connector, node, pin, through),
        through + (c.gain * pin + c.offset - end) / c.guard,
    ]


def _first_stage(x, c, resistance, signal):
    connector, behind, node, pin = x
    through = (connector - behind) / resistance
    return [
        (signal - connector) / c.source - through,
        through - (behind - node) / c.outer,
        (behind - node) / c.outer - (node - pin) / c.inner - _rails(c, node),
        (node - pin) / c.inner + c.bias,
    ]


def t7(x, c):
    connector, limited, node, pin = x
    through = (limited - node) / c.first
    return [
        (c.signal - connector) / c.source - (connector - limited) / c.outer,
        (connector - limited) / c.outer - through,
        through + c.gate - (node - pin) / c.inner - _rails(c, node),
        (node - pin) / c.inner + c.bias,
    ]


def t8(x, c):
    return _line(c, *x, _rails(c, x[1]) + x[1] / c.insulation)


def t9(x, c):
    connector, node, pin, middle = x
    through = c.forward(node - middle) - c.backward(middle - node)
    balance = through + (c.middle_bias - middle) / c.middle - c.suppressor(middle)
    return [*_line(c, connector, node, pin, through), balance]


def t10(x, c):
    return _first_stage(x, c, c.first, c.signal)


def t11(x, c):
    return _first_stage(x, c, c.first, c.signal + c.thermal)


def t12(x, c):
    return _line(c, *x, _rails(c, x[1]), lost=x[0] / c.insulation)


def t13(x, c):
    connector, output = x
    pin = c.offset
    clamps = c.forward(pin) - c.backward(-pin)
    return [
        c.light - connector / c.source - (connector - pin) / c.outer,
        (connector - pin) / c.outer - clamps + c.bias + (output - pin) / c.feedback,
    ]


def t14(x, c):
    connector, node, pin, end = x
    lost = (connector - end) / c.insulation
    return [
        *_line(c, connector, node, pin, 0, lost),
        lost + (c.gain * pin + c.offset - end) / c.guard - _rails(c, end),
    ]


def t15(x, c):
    found = []
    for connector, pin, leg in ((x[0], x[1], c.plus), (x[2], x[3], c.minus)):
        into = (connector - pin) / leg.outer
        found += [
            (leg.signal - connector) / leg.source - into,
            into - _rails(leg, pin) + leg.bias,
        ]
    return found


def t16(x, c):
    return _line(c, *x, _rails(c, x[1]) + x[1] / c.lower_resistor)


def t17(x, c):
    connector, node, pin, up, down = x
    first, second = c.forward(node - up), c.forward(up)
    third, fourth = c.backward(-down), c.backward(down - node)
    return [*_line(c, connector, node, pin, first - fourth), first - second, third - fourth]


EQUATIONS = {
    "T1": t1, "T2": t2, "T3": t3, "T4": t4, "T5": t5, "T6": t2, "T7": t7, "T8": t8, "T9": t9,
    "T10": t10, "T11": t11, "T12": t12, "T13": t13, "T14": t14, "T15": t15, "T16": t16, "T17": t17,
    "T18": t1,
}  # fmt: skip


def error(name, x, c):
    """The answer: what the amplifier sees less what it should see."""
    if name == "T4":
        return x[3] - c.offset - c.signal
    if name == "T13":
        return x[1] - c.offset + c.feedback * c.light
    if name == "T15":
        return (x[1] - x[3]) - (c.plus.signal - c.minus.signal)
    if name == "T16":
        return x[2] - c.signal * c.lower_resistor / (c.source + c.outer + c.lower_resistor)
    return x[NODES[name].index("pin")] - c.signal


def exactly(case):
    """The case in 50-digit numbers, its laws by the textbook equation."""
    return _mapped(case, lambda number: mpf(float(number)), Junction)


def in_doubles(case):
    """The case in doubles, its laws by the package's physics (checked in tests/physics)."""
    return _mapped(case, float, lambda state: lambda v: float(current_and_slope(v, state)[0]))


def _mapped(case, number, law):
    found = {}
    for key, value in vars(case).items():
        if isinstance(value, SimpleNamespace):
            found[key] = _mapped(value, number, law)
        else:
            found[key] = number(value) if isinstance(value, int | float) else law(value)
    return SimpleNamespace(**found)


def in_50_digits(name, case, start):
    """Error (V) by Newton's method with a numerical Jacobian, until the step is below 1e-40."""
    c, equations = exactly(case), EQUATIONS[name]
    x = matrix([mpf(float(v)) for v in start])
    h = mpf(10) ** -25
    for _ in range(40):
        here = matrix(equations(x, c))
        jacobian = matrix(len(x), len(x))
        for k in range(len(x)):
            moved = x.copy()
            moved[k] += h
            jacobian[:, k] = (matrix(equations(moved, c)) - here) / h
        step = lu_solve(jacobian, -here)
        x += step
        if mp.norm(step, mp.inf) < mpf(10) ** -40:
            return error(name, x, c)
    raise AssertionError(f"the 50-digit solution of {name} did not settle")
