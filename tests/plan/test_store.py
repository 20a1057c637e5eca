"""The store: figures beside what the owner states, and no judgement without it."""

import re

import pytest

from forebay.plan import store
from tests.plan import scene

STATED = {"support__tank_mass": "60 kg", "support__footprint_length": "1.2 m",
          "support__footprint_width": "1.0 m", "support__bearers": 3,
          "support__allowed_load": "20 kN/m2", "support__allowed_bearer": "20 kN",
          "support__gust": "25 m/s"}


def part_of(**changes):
    return store.part(scene.variant("hillside", **changes).plant(), {})


def figures(part):
    return {one.key: one for one in part.figures}


def words(part):
    return " ".join((part.title, *part.says, *part.warns, *(
        f"{one.name} {one.note}" for one in part.figures)))


def test_what_is_not_stated_is_not_judged():
    part = part_of()
    assert set(figures(part)) == {"usable_m3", "stored_J", "cells", "full_kg"}
    assert not part.warns
    assert "not judged" in words(part)
    assert "not worked out" in words(part)
    assert "support.tank_mass is not stated" in figures(part)["full_kg"].note


def test_a_load_without_an_allowance_is_a_figure_and_no_more():
    part = part_of(support__footprint_length="1.2 m", support__footprint_width="1.0 m",
                   support__bearers=3)
    assert "not judged" in figures(part)["pressure_Pa"].note
    assert "not judged" in figures(part)["bearer_N"].note
    assert not part.warns


@pytest.mark.parametrize("changes", [{}, STATED, {**STATED, "support__allowed_load": "1 kN/m2"}])
def test_nothing_is_ever_called_safe(changes):
    said = words(part_of(**changes))
    assert not re.search(r"\bsafe", said, re.IGNORECASE)
    assert "licensed engineer and the local code" in said


def test_a_load_beyond_what_is_stated_is_a_warning():
    part = part_of(**{**STATED, "support__allowed_load": "5 kN/m2",
                      "support__allowed_bearer": "2 kN"})
    assert [("5 kN/m2" in said or "2000 N" in said) for said in part.warns[:2]] == [True, True]
    assert "%" in figures(part)["pressure_Pa"].note


def test_an_allowance_that_is_kept_raises_no_warning():
    assert not [said for said in part_of(**STATED).warns if "allowed" in said]


def test_a_gust_that_may_lift_the_empty_tank_asks_for_a_tie():
    assert [said for said in part_of(**{**STATED, "support__gust": "50 m/s"}).warns
            if "tie it down" in said]
    assert not [said for said in part_of(**{**STATED, "support__gust": "10 m/s"}).warns
                if "tie" in said]


def test_the_wind_takes_the_whole_of_what_must_be_stated():
    for key in ("support__tank_mass", "support__footprint_width", "support__gust"):
        left = {name: value for name, value in STATED.items() if name != key}
        assert "wind_N" not in figures(part_of(**left))


def test_the_load_is_of_the_brim_and_not_of_the_float():
    # 1100 L of the box to its rim, 999.5 kg/m3 at 12 degC (CRC handbook), and the tank.
    found = figures(part_of(**STATED))
    assert found["full_kg"].value == pytest.approx(1.1 * 999.5 + 60.0, rel=1e-4)
    # 20 psf of a flat roof, common in US codes, is 0.958 kN/m2: this is nearly ten times as much.
    assert found["pressure_Pa"].value == pytest.approx(1159.5 * 9.80 / 1.2, rel=1e-3)
