"""Whole rehearsals under further measured days, each with a stated expectation.

The files lie beside a clone, in ../shared/data, or where FOREBAY_SHARED_DATA
says; SURFRAD daily files of NOAA and one file of the ARM user facility. The
demo rig is used, so its mild air of 14 degC applies, not the files'.
"""

import os
from pathlib import Path

import pytest

from forebay.rehearse.options import plan
from forebay.rehearse.run import rehearse

SHARED = Path(os.environ.get("FOREBAY_SHARED_DATA")
              or Path(__file__).parents[2].parent / "shared" / "data")

# file, options, litres up (least, most), hours of light (least, most)
DAYS = (
    # Clear, cold, snow: fills the tank from 60 to 960 L.
    ("slv16001.dat", {}, (895, 905), (7.2, 8.0)),
    # Overcast: a quarter of clear-sky energy, at most 148 W/m2 on the panel. It lifts a
    # few hundred litres at most; 10 L lie above the low float at the start.
    ("psu17010.dat", {}, (0, 300), (0.0, 3.0)),
    # Convective cloud, 63 steps of 100 W/m2 a minute and more: fills it. The file ends
    # before sunset, which must be allowed.
    ("arm_sgpbrsC1_20190705.csv", {"assume_dark": True, "station": "36.605,-97.485,318"},
     (890, 905), (7.2, 8.0)),
)


@pytest.mark.parametrize(("name", "options", "litres", "hours"), DAYS)
def test_a_measured_day_ends_as_expected(tmp_path, name, options, litres, hours):
    run = rehearse(plan(sun=SHARED / name, out=tmp_path / "out", **options))
    truth = run.truth
    assert litres[0] <= truth["volume_L"]["up"] <= litres[1]
    assert hours[0] <= run.review.balance.light_h <= hours[1]
    assert run.review.balance.trips == 0
    assert truth["lockouts"] == 0
    assert truth["volume_L"]["spilled"] == 0
    assert abs(truth["mass_error_frac"]) < 1e-9
    assert abs(truth["energy_error_frac"]) < 1e-6
