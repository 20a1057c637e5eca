"""Days for the campaign: the measured one, scaled and clouded, and made ones.

All from a seed.  A day is three lists by the minute: irradiance in the panel's
plane [W/m2], cell temperature [degC], air [degC].
"""

import math

from tests.campaign.given import given

MINUTES = 1441
COLDEST_DEGC, HOTTEST_DEGC = -8.0, 40.0     # nights that freeze a pipe; the demo's hottest air
DUSK_MIN = 30
CELL_K_M2_W = 0.03        # cell over air; NOCT of about 44 degC, common practice
KINDS = ("measured", "clear", "broken", "overcast", "dull week")


def _arc(length_min, peak_W_m2):
    """A clear day: half a sine, dark before and after."""
    return [peak_W_m2 * math.sin(math.pi * (minute - DUSK_MIN) / length_min)
            if DUSK_MIN < minute < DUSK_MIN + length_min else 0.0 for minute in range(MINUTES)]


def _clouds(draw, poa, least):
    """Clouds of some minutes that let a share through."""
    share, left = 1.0, 0
    out = []
    for value in poa:
        if left <= 0:
            left = draw.randint(1, 25)
            share = draw.choice((1.0, draw.uniform(least, 1.0)))
        left -= 1
        out.append(value * share)
    return out


def day(draw, kind=None, air_degC=None, coldest_degC=COLDEST_DEGC, hottest_degC=HOTTEST_DEGC):
    """Returns the lists of a day; draw: a random.Random.

    air_degC: mean of the air, drawn without it; it never passes the coldest and the
    hottest [degC].
    """
    kind = kind or draw.choice(KINDS[:4])
    if kind == "measured":
        scale = draw.uniform(0.3, 1.1)
        poa = [scale * value for value in given()["measured"]]
        if draw.random() < 0.5:
            poa = _clouds(draw, poa, 0.1)
    elif kind == "clear":
        poa = _arc(draw.randint(480, 960), draw.uniform(500.0, 1050.0))
    elif kind == "broken":
        poa = _clouds(draw, _arc(draw.randint(480, 960), draw.uniform(500.0, 1050.0)), 0.05)
    else:
        poa = _clouds(draw, _arc(draw.randint(480, 720), draw.uniform(30.0, 200.0)), 0.3)
    swing = draw.uniform(1.0, 7.0)
    mean = draw.uniform(coldest_degC + swing, hottest_degC - swing)
    if air_degC is not None:
        mean = air_degC
    air = [mean + swing * math.sin(2 * math.pi * (minute - 240) / 1440)
           for minute in range(MINUTES)]
    cell = [air[minute] + CELL_K_M2_W * poa[minute] for minute in range(MINUTES)]
    return poa, cell, air
