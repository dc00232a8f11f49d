"""Water vapour in air, for the dampness of a climate and of a hive.

Ours, since the kept library (``psychrolib``, which the tests hold it against) takes one number at a time and, under the
freezing point, vapour over ice, while humidity is reported over water in frost too.
"""

from __future__ import annotations

import numpy as np

MAGNUS_A, MAGNUS_B, MAGNUS_C = 6.112, 17.62, 243.12  # WMO constants [W68]


def saturation_hpa(temp_c):
    """Return the saturation vapour pressure over water, hPa.

    Magnus form with the constants of the World Meteorological Organization: 6.112 exp(17.62 t / (243.12 + t));
    valid from about -45 to 60 degC.

    Parameters
    ----------
    temp_c : float or array
        degC.
    """
    temp_c = np.asarray(temp_c, dtype=float)
    return MAGNUS_A * np.exp(MAGNUS_B * temp_c / (MAGNUS_C + temp_c))


def dew_point_c(vapour_hpa):
    """Return the dew point, degC, of a vapour pressure (hPa, above 0): where it saturates the air."""
    g = np.log(np.asarray(vapour_hpa, dtype=float) / MAGNUS_A)
    return MAGNUS_C * g / (MAGNUS_B - g)


def mean_saturation_hpa(temp_c, sd_c=0.0):
    """Return the mean saturation vapour pressure (hPa) of days that scatter about a mean temperature.

    Because the curve bends upward, days of -20 and 0 degC together hold more vapour than two days of -10.
    With normal scatter the mean is the value at the mean temperature times exp((b sd)^2 / 2), b being the
    curve's relative slope: right to 1 percent for a spread of 4 degC and to 3 percent for 8.

    Parameters
    ----------
    temp_c, sd_c : float or array
        Mean and spread of the days, degC; an unknown spread (NaN) counts as none.
    """
    temp_c = np.asarray(temp_c, dtype=float)
    slope = MAGNUS_B * MAGNUS_C / (MAGNUS_C + temp_c) ** 2
    return saturation_hpa(temp_c) * np.exp(0.5 * (slope * np.nan_to_num(sd_c)) ** 2)


def relative_humidity_pct(temp_c, vapour_hpa, sd_c=0.0):
    """Return relative humidity in percent from temperature (degC), vapour pressure (hPa), spread (degC).

    NaN where either is unknown, and where the pressure is more than such days can hold (over 102 percent,
    beyond rounding): such a figure is an error of the source. Between 100 and 102 gives 100.
    """
    humidity = 100.0 * np.asarray(vapour_hpa, dtype=float) / mean_saturation_hpa(temp_c, sd_c)
    return np.where(humidity > 102.0, np.nan, np.minimum(humidity, 100.0))
