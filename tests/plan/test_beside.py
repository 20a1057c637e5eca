"""Two rigs side by side, or one figure over a range: the same is no change, odd is refused."""

import pytest

from forebay.errors import InputError
from forebay.plan import answering, beside
from forebay.plan.answering import Asked
from tests.plan import scene

NOZZLE = "turbine.nozzle_diameter"


def swept(text, name="hillside"):
    found = answering.answer(scene.rig_of(name), Asked(sweep=text))
    (table,) = found.parts[0].tables
    return [column.key for column in table.columns], table.rows


@pytest.mark.parametrize("name", ["hillside", "orchard"])
def test_a_rig_beside_itself_shows_no_difference(name):
    rig = scene.rig_of(name)
    part, _ = beside.compared(rig, rig, None, 0.5, None)
    outcomes, differences = part.tables
    assert list(differences.rows) == []
    assert len(outcomes.rows) == len(beside.OUTCOMES)
    assert all(first == second and change == 0.0
               for _, first, second, change, _ in outcomes.rows)


def test_the_figures_that_differ_are_those_that_were_changed():
    other = scene.variant("hillside", upper__base_height="8 m", penstock__length="21 m")
    part, _ = beside.compared(scene.rig_of("hillside"), other, None, 0.5, None)
    assert [row[0] for row in part.tables[1].rows] == ["upper.base_height", "penstock.length"]
    # m g h: a metre lower, about a ninth less.
    stored = {row[0]: row for row in part.tables[0].rows}["energy stored"]
    assert stored[3] == pytest.approx(-1.0 / 9.505, rel=1e-6)


def test_a_sweep_goes_from_end_to_end_and_follows_the_figure():
    keys, rows = swept(f"{NOZZLE}=1.5 mm..2.1 mm")
    values = [row[0] for row in rows]
    assert values == pytest.approx([1.5e-3 + place * 1e-4 for place in range(7)])
    held = [row[keys.index("held_s")] for row in rows]
    most = [row[keys.index("empty_W")] for row in rows]
    assert held == sorted(held, reverse=True)
    assert most == sorted(most)
    assert len({row[keys.index("lifted_m3")] for row in rows}) == 1


def test_the_tilt_of_the_panel_moves_the_sun():
    # It used to sweep the tilt without the sun: nothing changed. Upright it takes less.
    keys, rows = swept("panel.tilt=0 deg..90 deg")
    lifted = [row[keys.index("lifted_m3")] for row in rows]
    assert lifted[-1] < min(lifted[:-1])


def test_a_sweep_of_the_setpoint_is_of_the_light_itself():
    # It used to look at the same light all along.
    keys, rows = swept("night.setpoint=0.3 W..0.9 W")
    held = [row[keys.index("held_s")] for row in rows]
    assert held == sorted(held, reverse=True)
    assert held[0] > held[-1]


def test_what_cannot_be_is_an_empty_row_and_no_end():
    keys, rows = swept("upper.empty_volume=0 L..1000 L")
    assert rows[-1][1:] == (None,) * len(beside.OUTCOMES)
    assert rows[0][keys.index("lifted_m3")] > 0.0


@pytest.mark.parametrize(("text", "said"), [
    ("", "section.key=from..to"),
    ("nozzle=1 mm..2 mm", "section.key=from..to"),
    (f"{NOZZLE}=1 mm", "section.key=from..to"),
    (f"{NOZZLE}=1 mm-2 mm", "section.key=from..to"),
    ("turbine.no_such=1..2", "no key of a rig"),
    ("rig.name=a..b", "no key of a rig"),
    ("upper.shape=a..b", "no key of a rig"),
    ("lamps.steps=1 W..2 W", "no key of a rig"),
    ("panel.cells=36..48", "no key of a rig"),
    (f"{NOZZLE}=0.1 mm..2 mm", "0.5 mm to 100 mm"),
    (f"{NOZZLE}=1 mm..2 m", "0.5 mm to 100 mm"),
    (f"{NOZZLE}=2 mm..1 mm", "must rise"),
    (f"{NOZZLE}=2 mm..2 mm", "must rise"),
    (f"{NOZZLE}=nan mm..2 mm", "must be 0.5 mm to 100 mm"),
    (f"{NOZZLE}=1 mm..inf mm", "must be 0.5 mm to 100 mm"),
    (f"{NOZZLE}=1 kg..2 kg", "must be 0.5 mm to 100 mm"),
    (f"{NOZZLE}=1 mm..2 mm\nx=1..2", "section.key=from..to"),
    ("turbine.hit_frac=a..b", "must be 0.05 to 1"),
    ("upper.diameter=1 m..2 m", "does not state it"),     # a box has none
])
def test_a_range_that_cannot_be_is_one_line(text, said):
    with pytest.raises(InputError, match=r"^--sweep") as refused:
        answering.answer(scene.rig_of("hillside"), Asked(sweep=text))
    assert said in str(refused.value)
    assert len(str(refused.value).splitlines()) == 1


@pytest.mark.parametrize(("asked", "said"), [
    (Asked(wished=""), "--for ''"), (Asked(other=""), "cannot be read"),
    (Asked(wished="3 h at 1 W, 1 nights of 2", sweep="a.b=1..2"), "--for and --sweep"),
    (Asked(other="a.toml", sweep="a.b=1..2"), "--compare and --sweep"),
    (Asked(station="1,2,3"), "--sun"), (Asked(clearness=float("nan")), "--clearness nan"),
    (Asked(source=""), "sun file"),
])
def test_questions_that_cannot_be_answered_are_refused(asked, said):
    with pytest.raises(InputError) as refused:
        answering.answer(scene.rig_of("hillside"), asked)
    assert said in str(refused.value)
    assert len(str(refused.value).splitlines()) == 1
