"""The clamp law written a second time, scalar and in 50 digits, straight from its equation.

It shares no code with the package except the parameter names; the tests compare values and, by
numerical differentiation in 50 digits, slopes.
"""

from mpmath import exp, expm1, log, mp, mpf, sqrt

mp.dps = 50
K = mpf("1.380649e-23") / mpf("1.602176634e-19")  # [V/K] SI 2019


def current(law, voltage, temperature, illuminance=0):
    """Current (A) of `law` at `voltage` (V), `temperature` (K) and `illuminance` (lx)."""
    p = {name: mpf(value) for name, value in vars(law).items()}
    v, t = mpf(voltage), mpf(temperature)
    vt, t0, r_br = K * t, p["reference_temperature"], p["breakdown_resistance"]

    def moved(name, exponent):
        energy = p[f"{name}_activation_energy"]
        return (t / t0) ** exponent * exp(-energy / K * (1 / t - 1 / t0))

    def knee_voltage(name):
        return p[f"{name}_voltage"] * (1 + p[f"{name}_temperature_coefficient"] * (t - t0))

    i_d = p["diffusion_current"] * moved("diffusion", p["diffusion_temperature_exponent"])
    i_g = p["generation_current"] * moved("generation", p["generation_temperature_exponent"])
    light = p["responsivity"] * mpf(illuminance)
    vbi = p["built_in_voltage"]

    def lowering(v_r):
        return exp(
            p["image_force_lowering"] * ((v_r + vbi) ** mpf("0.25") - vbi ** mpf("0.25")) / vt
        )

    def width(v_r):
        return (1 + v_r / vbi) ** p["grading"]

    v_r = max(-v, mpf(0))
    primary = i_d * lowering(v_r) * _grown(v / (p["diffusion_ideality"] * vt), 600)
    primary += i_g * width(v_r) * _grown(v / (p["generation_ideality"] * vt), 600) - light
    total = p["film_conductance"] * moved("film", 0) * v
    total += _multiplied(primary, i_d, i_g, light, lowering, width, v_r, p, knee_voltage, r_br)
    total += _tunnelling(v, p, knee_voltage, r_br) + _symmetric(v, p, knee_voltage, r_br)
    return total


def _grown(x, knee):
    """exp(x) − 1, a straight line above `knee`."""
    return expm1(x) if x <= knee else exp(mpf(knee)) * (1 + x - knee) - 1


def _multiplied(primary, i_d, i_g, light, lowering, width, v_r, p, knee_voltage, r_br):
    v_br, n = knee_voltage("breakdown"), p["breakdown_exponent"]
    if v_br == mpf("inf"):
        return primary
    at_breakdown = i_d * lowering(v_br) + i_g * width(v_br) + light
    largest = min(max(sqrt(v_br / (n * r_br * at_breakdown)), mpf(2)), mpf(10) ** 9)
    u, knee = v_r / v_br, (1 - 1 / largest) ** (1 / n)
    if u <= knee:
        return primary / (1 - u**n)
    steep = n * knee ** (n - 1) * largest**2 / v_br
    extra = max(1 / r_br - at_breakdown * steep, mpf(0))
    past = v_r - knee * v_br
    return primary * (largest + steep * past) - extra * past


def _tunnelling(v, p, knee_voltage, r_br):
    if p["tunnelling_current"] == 0:
        return mpf(0)
    v_z, v_k = knee_voltage("tunnelling"), p["tunnelling_width"]
    knee = v_z / v_k + max(log(v_k / (p["tunnelling_current"] * r_br)), mpf(0))
    return -p["tunnelling_current"] * exp(-v_z / v_k) * _grown(-v / v_k, knee)


def _symmetric(v, p, knee_voltage, r_br):
    if p["symmetric_current"] == 0:
        return mpf(0)
    v_ref, a, i_ref = knee_voltage("symmetric"), p["symmetric_exponent"], p["symmetric_current"]
    knee = max(v_ref / (a * i_ref * r_br), mpf(1)) ** (1 / (a - 1))
    r = abs(v) / v_ref
    value = r**a if r <= knee else knee**a + a * knee ** (a - 1) * (r - knee)
    return (1 if v >= 0 else -1) * i_ref * value
