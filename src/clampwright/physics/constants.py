"""Physical constants, exact since the SI of 2019 except the vacuum permittivity (CODATA 2022)."""

BOLTZMANN = 1.380649e-23  # [J/K] exact
ELEMENTARY_CHARGE = 1.602176634e-19  # [C] exact
BOLTZMANN_PER_CHARGE = BOLTZMANN / ELEMENTARY_CHARGE  # [V/K] = [eV/K]
VACUUM_PERMITTIVITY = 8.8541878188e-12  # [F/m]
SILICON_RELATIVE_PERMITTIVITY = 11.7  # textbook value (Sze, Physics of Semiconductor Devices)
REFERENCE_TEMPERATURE = 298.15  # [K] 25 °C, the temperature most data sheets use
ROOM_TEMPERATURE = 296.15  # [K] 23 °C, of a bench unless told; common practice, no source
BUILT_IN_VOLTAGE = 0.7  # [V] of a silicon junction where nobody states it; textbook value (Sze)
