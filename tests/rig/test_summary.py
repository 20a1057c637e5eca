"""A rig's own summary of what it lacks."""

from forebay.rig import load, remaining, summary
from tests.rig.less import without

ORCHARD = load(demo="orchard").plant()


def test_a_rig_with_everything_has_nothing_to_tell():
    full = load().plant()

    assert summary.short(full) == []
    assert summary.digest(full) == ""
    assert summary.document(full) == {
        "instruments_absent": [], "elements_not_fitted": [], "left_to_hardware": {}}


def test_the_summary_names_every_hazard_element_and_look():
    text = "\n".join(summary.full(ORCHARD))
    found = summary.document(ORCHARD)

    for hazard in remaining.left_to_hardware(ORCHARD):
        assert f"\n  {hazard}: " in text
    for one in found["elements_not_fitted"]:
        assert f"({one['element']})" in text
        assert one["other_elements"] or one["hardware"] or one["person"]
    assert all(name in text for name in found["instruments_absent"])


def test_it_fits_a_terminal():
    for lines in (summary.short(ORCHARD), summary.full(ORCHARD), summary.hazards(ORCHARD)):
        assert max(map(len, lines)) <= 80


def test_the_digest_changes_with_what_is_left_and_with_nothing_else():
    assert summary.digest(without("flow_down").plant()) == ""
    assert summary.digest(without("pump_meter").plant()) != summary.digest(ORCHARD)
    assert summary.digest(dict(ORCHARD)) == summary.digest(ORCHARD)
