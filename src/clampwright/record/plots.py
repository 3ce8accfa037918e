"""The four pictures of the record; each function returns the figure and saves nothing.

Marks are the same everywhere: solid dot measured, open dot typical, cap line maximum, arrow down
from an upper bound not detected, hatched assumed, line with a band predicted.
"""

from clampwright.record.budget_plot import budget_plot, deciding_judgement
from clampwright.record.fault_cases import lowest_stresses
from clampwright.record.leakage_plot import leakage_plot
from clampwright.record.limit_plots import stress_plot, window_plot
from clampwright.record.look import figure_svg

__all__ = [
    "budget_plot",
    "deciding_judgement",
    "figure_svg",
    "leakage_plot",
    "lowest_stresses",
    "stress_plot",
    "window_plot",
]
