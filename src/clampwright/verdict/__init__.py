"""Budget, stress against rating, the four verdicts, ranking; results are frozen data.

Floor 4; may import floors 0 to 3.
"""
