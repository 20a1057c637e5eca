"""Every figure of the real world has a recipe and two doubts; marks of a file are counted."""

import tomllib

import pytest

from forebay import rig
from forebay.rig import recipes
from forebay.rig.doubt import doubt, of_figure
from forebay.rig.instruments import INSTRUMENTS
from forebay.rig.recipes.rows import Spread, Stated
from forebay.rig.schema import KEYS, PLACE_OF

DEMO, ORCHARD = rig.load(), rig.load(demo="orchard")
DOUBTED = [place for place, row in recipes.ROWS.items() if row.measured is not None]


# What a code or a licensed person says is taken as it is said.
SAID = {"support.gust", "support.allowed_load", "support.allowed_bearer"}


def marked(text, marks):
    """Returns a description with these marks, a line a section."""
    return rig.load_text(f"{text}\n[assumed]\n{marks}\n", "rig.toml")


def test_every_key_has_a_recipe_or_is_declared_a_choice_and_nothing_else_is():
    assert recipes.ROWS.keys() | recipes.CHOSEN == KEYS.keys()
    assert not recipes.ROWS.keys() & recipes.CHOSEN


def test_what_is_fitted_and_wished_is_a_choice_and_a_nameplate_is_not():
    assert {one.key for one in INSTRUMENTS} <= recipes.CHOSEN
    assert {"night.setpoint", "limits.trial", "rig.name", "lamps.steps"} <= recipes.CHOSEN
    assert recipes.is_figure("pump.rated_head")
    assert recipes.is_figure("generator.emf_constant")


@pytest.mark.parametrize("place", recipes.ROWS)
def test_a_recipe_is_a_short_sentence_or_two(place):
    text = recipes.ROWS[place].recipe
    assert text.endswith(".")
    assert text[0].isupper()
    assert 15 < len(text) <= 200


@pytest.mark.parametrize("place", DOUBTED)
def test_what_is_measured_is_doubted_less_than_what_is_assumed_and_never_not_at_all(place):
    row = recipes.ROWS[place]
    assert isinstance(row.assumed, Spread)
    for one in (row.assumed, row.measured):
        if isinstance(one, Stated):
            assert f"model.{one.key}" in KEYS
        else:
            assert one is not None
            assert one.amount > 0.0
            assert not one.is_share or one.amount <= 1.0
    name = PLACE_OF[place]
    for one in (DEMO, ORCHARD):
        values = one.plant()
        if values.get(name):
            assert 0.0 < of_figure(values, place, False) < of_figure(values, place, True)


@pytest.mark.parametrize("place", [place for place in recipes.ROWS if place not in DOUBTED])
def test_only_what_is_so_or_not_is_not_doubted(place):
    assert recipes.ROWS[place].assumed is None
    assert KEYS[place].choices or KEYS[place].kind == "count" or place in SAID


def test_the_model_is_asked_where_it_says_how_well_a_figure_is_known():
    model = '\n[model]\nhead = "0.3 m"\nnozzle_frac = 0.05\nfloat_place = "20 mm"\n'
    held = rig.load_text(DEMO.toml_text + model, "rig.toml")
    found = doubt(held)
    # By hand: 0.05 of 2.1 mm; 20 mm on a plan area of 1 m x 1 m.
    assert found["upper.base_height_m"] == pytest.approx(0.3)
    assert found["turbine.nozzle_diameter_m"] == pytest.approx(0.05 * 2.1e-3)
    assert found["upper.full_volume_m3"] == pytest.approx(0.020)


def test_an_area_is_known_as_the_model_says_whatever_the_shape():
    # By hand: the area of a box goes with both sides, that of a drum with the diameter squared.
    box, drum = doubt(DEMO), doubt(ORCHARD)
    both = ((box["upper.length_m"] / 1.0) ** 2 + (box["upper.width_m"] / 1.0) ** 2) ** 0.5
    assert both == pytest.approx(DEMO.model.tank_frac)
    assert 2 * drum["upper.diameter_m"] / 0.58 == pytest.approx(ORCHARD.model.tank_frac)


def test_a_mark_raises_the_doubt_and_leaves_the_rig_what_it_is():
    held = marked(DEMO.toml_text, 'pump = ["rated_head", "rated_flow"]')
    assert held.marked == {"pump.rated_head", "pump.rated_flow"}
    assert held.digest == DEMO.digest
    assert held.settings() == DEMO.settings()
    assert held.plant() == DEMO.plant()
    before, after = doubt(DEMO), doubt(held)
    assert {name for name in after if after[name] != before[name]} == {
        "pump.rated_head_m", "pump.rated_flow_m3_s"}
    assert after["pump.rated_head_m"] > before["pump.rated_head_m"]


def test_a_figure_left_to_its_default_is_a_guess_too_and_a_limit_is_none():
    assert "pump.shut_off_torque_frac" in ORCHARD.assumed
    assert "pump.shut_off_torque_frac" not in DEMO.assumed  # it states it
    assert not ORCHARD.assumed & recipes.CHOSEN
    # By the table of recipes: 30 % of 0.4 is doubted of it, 8 % once it is measured.
    assert doubt(ORCHARD)["pump.shut_off_torque_frac"] == pytest.approx(0.12)
    assert doubt(DEMO)["pump.shut_off_torque_frac"] == pytest.approx(0.032)


def test_a_height_that_follows_from_a_table_of_levels_is_no_guess():
    drum = 'shape = "upright cylinder"\ndiameter = "0.58 m"\nheight = "0.85 m"'
    table = 'shape = "table"\nlevels = [0, 0.5, 0.85]\nvolumes = [0, "132 L", "224 L"]'
    held = rig.load_text(ORCHARD.toml_text.replace(drum, table), "rig.toml")
    assert held.upper.height_m == 0.85
    assert "upper.height" in held.figures
    assert held.assumed == ORCHARD.assumed


def test_an_instrument_that_is_not_there_has_no_figures():
    figures = recipes.figures(ORCHARD.plant())
    assert not [place for place in figures if place.startswith(("sensors.flow", "sensors.level"))]
    assert "sensors.flow_frac" in recipes.figures(DEMO.plant())
    assert "upper.diameter" in figures
    assert "upper.length" not in figures


def test_the_demonstrations_count_as_stated_and_a_marked_file_says_how_much_is_not():
    assert (DEMO.assumed_line(), ORCHARD.assumed_line()) == ("", "")
    held = marked(DEMO.toml_text, 'pump = ["rated_head"]\nturbine = []')
    assert held.assumed_line() == (
        f"{1 + len(DEMO.assumed)} of {len(recipes.figures(DEMO.plant()))} figures of the rig are"
        " assumed, not measured (forebay plan says which matter most).")


def test_a_kept_description_with_strange_marks_is_read_and_they_are_passed_by():
    text = ORCHARD.toml_text + '\n[assumed]\npump = ["rated_head", "older_key"]\nolder = ["x"]\n'
    held = rig.load_text(text, "kept", is_kept=True)
    assert held.marked == {"pump.rated_head"}
    held = rig.load_text(ORCHARD.toml_text + "\n[assumed]\npump = 5\nmotor = [6]\n", "kept",
                         is_kept=True)
    assert held.marked == frozenset()


@pytest.mark.parametrize(("marks", "told"), [
    ('pmup = ["rated_head"]', "assumed.pmup: unknown section; did you mean assumed.pump?"),
    ('pump = ["rated_haed"]', 'assumed.pump[1] = "rated_haed": [pump] has no such key;'
     ' did you mean "rated_head"?'),
    ('pump = "rated_head"', 'assumed.pump = "rated_head": must be a list of names of keys of'
     " [pump], each in quotes; [] = all measured"),
    ('limits = ["trial"]', 'assumed.limits[1] = "trial": limits.trial is a choice of yours, and'
     " nothing to measure; take it out of the list"),
    ('pump = ["rated_head", "rated_head"]', 'assumed.pump[2] = "rated_head": is there twice; take'
     " one out of the list"),
    ('site = ["coldest_cell"]', 'assumed.site[1] = "coldest_cell": the file does not state'
     " site.coldest_cell; take it out of the list, or state the figure"),
])
def test_a_mark_that_means_nothing_is_one_line(marks, told):
    with pytest.raises(rig.RigError) as caught:
        marked(ORCHARD.toml_text, marks)
    assert caught.value.faults == [f"rig.toml: {told}"]


def test_what_is_missing_is_not_told_again_by_its_mark():
    text = ORCHARD.toml_text.replace('rated_head = "10 m"\n', "")
    assert "rated_head" not in tomllib.loads(text)["pump"]
    with pytest.raises(rig.RigError) as caught:
        marked(text, 'pump = ["rated_head"]')
    assert caught.value.faults == ["rig.toml: pump.rated_head: missing; set 0.1 m to 200 m"]
