"""Long-wave radiation from the sky."""

from math import log
from typing import Final

STEFAN_BOLTZMANN_W_M2K4: Final = 5.670374e-8
_KELVIN: Final = 273.15


def emissivity(dew_c: float, cloud_oktas: float) -> float:
    """Return the emissivity of the sky for a dew point [°C] and its cloud [oktas].

    References
    ----------
    Clark & Allen (1978) with the cloud factor as printed in the EnergyPlus Engineering
    Reference, which takes cloud in tenths: (0.787 + 0.764 ln(Td / 273)) (1 + 0.0224 N
    - 0.0035 N² + 0.00028 N³).
    """
    tenths = cloud_oktas * 1.25
    cover = 1.0 + tenths * (0.0224 + tenths * (-0.0035 + tenths * 0.00028))
    return (0.787 + 0.764 * log((dew_c + _KELVIN) / 273.0)) * cover


def sky_temperature_k(air_c: float, dew_c: float, cloud_oktas: float) -> float:
    """Return the temperature of a black body that shines as the sky does. [K]"""
    return float((air_c + _KELVIN) * emissivity(dew_c, cloud_oktas) ** 0.25)


def downward_w_m2(air_c: float, dew_c: float, cloud_oktas: float) -> float:
    """Return the sky's long-wave radiation. [W/m²]"""
    return float(STEFAN_BOLTZMANN_W_M2K4 * sky_temperature_k(air_c, dew_c, cloud_oktas) ** 4)
