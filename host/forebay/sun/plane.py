"""From irradiance to what the panel takes up, and how warm its cells get.

Everything here is pvlib's; this file chooses the models and their constants.
Arrays are numpy, one value a minute, angles in degrees.
"""

LINKE_TURBIDITY = 3.0  # clean to average air [-]; a stated choice, not the site's own

LOWEST_COS_ZENITH = 0.065  # of the sun 3.7 deg up, as pvlib's Erbs has it

# Isotropic sky: the plainest model, which gives a tilted panel under a clear
# sky a few percent less than measured. A rehearsal should not promise too much.
SKY_MODEL = "isotropic"


def clear_sky(sun, times, height_m):
    """(ghi, dni, dhi) [W/m2] of a clear day: Ineichen and Perez, turbidity LINKE_TURBIDITY.

    Source: Ineichen and Perez (2002), Solar Energy 73(3), 151-157.
    """
    import numpy as np
    from pvlib import atmosphere, clearsky, irradiance

    airmass = atmosphere.get_relative_airmass(sun["apparent_zenith"])
    absolute = atmosphere.get_absolute_airmass(airmass, atmosphere.alt2pres(height_m))
    table = clearsky.ineichen(
        sun["apparent_zenith"],
        absolute,
        LINKE_TURBIDITY,
        altitude=height_m,
        dni_extra=irradiance.get_extra_radiation(times),  # pyright: ignore[reportArgumentType]
    )
    return tuple(np.nan_to_num(table[name]) for name in ("ghi", "dni", "dhi"))


def outside(times):
    """Irradiance square to the sun outside of the atmosphere [W/m2], pvlib's default."""
    from pvlib import irradiance

    return irradiance.get_extra_radiation(times).to_numpy()


def decomposed(ghi_w_m2, sun, times):
    """(dni, dhi) [W/m2] estimated from ghi alone.

    Source: Erbs, Klein and Duffie (1982), Solar Energy 28(4), 293-302; fitted
    to hourly means, so a single minute may be far off.
    """
    from pvlib import irradiance

    parts = irradiance.erbs(ghi_w_m2, sun["zenith"].to_numpy(), times)
    return parts["dni"], parts["dhi"]


def completed(parts, sun):
    """(dni, dhi) of {column: array} that holds one of them beside ghi: ghi = dni cos z + dhi.

    With the sun lower than LOWEST_COS_ZENITH the direct part is not told apart.
    """
    import numpy as np

    ghi = np.array(parts["ghi_w_m2"], dtype=float)
    up = np.cos(np.radians(sun["apparent_zenith"].to_numpy()))
    is_up = up >= LOWEST_COS_ZENITH
    if "dni_w_m2" in parts:
        dni = np.minimum(parts["dni_w_m2"], ghi / np.where(is_up, up, 1.0))
    else:
        dni = np.maximum(ghi - np.array(parts["dhi_w_m2"]), 0.0) / np.where(is_up, up, 1.0)
    dni = np.where(is_up, dni, 0.0)
    return dni, np.maximum(ghi - dni * up, 0.0)


def plane_of_array(parts, sun, tilt_deg, azimuth_deg, albedo):
    """Irradiance on the tilted panel [W/m2], >= 0: beam + isotropic sky + ground.

    poa = dni cos(incidence) + dhi (1 + cos tilt)/2 + ghi albedo (1 - cos tilt)/2.
    parts: (ghi, dni, dhi) [W/m2]; azimuth_deg: clockwise from north [deg].
    Source: Liu and Jordan (1963), Solar Energy 7(2), 53-74.
    """
    from pvlib import irradiance

    ghi, dni, dhi = parts
    table = irradiance.get_total_irradiance(
        tilt_deg,
        azimuth_deg,
        sun["apparent_zenith"].to_numpy(),
        sun["azimuth"].to_numpy(),
        dni,
        ghi,
        dhi,
        albedo=albedo,
        model=SKY_MODEL,
    )
    return table["poa_global"].clip(0.0)


def cell_degC(poa_w_m2, air_degC, wind_m_s):
    """Temperature of the cells [degC]: air + poa / (25.0 + 6.84 wind).

    Source: Faiman (2008), Progress in Photovoltaics 16, 307-315, whose
    constants are pvlib's defaults; without the panel's heat capacity.
    """
    from pvlib import temperature

    return temperature.faiman(poa_w_m2, air_degC, wind_m_s)
