"""Which curves the page has: hours against power, and what comes over the valve's travel."""

from forebay.explain import plot
from forebay.explain.facts import Facts
from forebay.explain.saying import Saying
from forebay.showing import in_unit, unit_of

HOUR_S, PERCENT = 3600.0, 100.0


def hours_svg(facts: Facts, said: Saying) -> str:
    """Return hours of light over its power, the steps marked, and the hours of a fixed yield."""
    bright = facts.lights[-1]
    longest_h = 1.25 * facts.hours[0].hours_s / HOUR_S
    same_J = bright.lamp_W * bright.hours_s
    fixed = [(one.lamp_W, same_J / one.lamp_W / HOUR_S) for one in facts.hours
             if same_J / one.lamp_W / HOUR_S <= longest_h]
    curves = [plot.Curve([(one.lamp_W, one.hours_s / HOUR_S) for one in facts.hours],
                         "lamp", "this rig", 0),
              plot.Curve(fixed, "plain")]
    marks = [plot.Mark(one.lamp_W, one.hours_s / HOUR_S, said(one.hours_s, "time"))
             for one in facts.lights]
    told = "; ".join(f"{said(one.lamp_W, 'power')} for {said(one.hours_s, 'time')}"
                     for one in facts.lights)
    return plot.plot("hours", "Hours of light against its power", f"From a full tank: {told}.",
                     "light [W]", facts.brightest_W,
                     [plot.Strip("hours from a full tank [h]", curves, marks, 190)])


def valve_svg(facts: Facts, said: Saying) -> str:
    """Return light, flow and joules by volume over the valve's travel, under two heads."""
    def strip(title, style, dimension, of):
        unit = unit_of(max(map(of, facts.openings[0])), dimension, said.system)
        title = f"{title} [{unit}]"
        full, low = ([(PERCENT * one.travel_frac, in_unit(of(one), dimension, unit))
                      for one in openings] for openings in facts.openings)
        return plot.Strip(title, [plot.Curve(full, style), plot.Curve(low, f"{style} low")],
                          height=110)

    return plot.plot(
        "valve", "What comes over the valve's travel",
        f"Wide open under a full tank {said(facts.wide.lamp_W, 'power')} from"
        f" {said(facts.wide.flow_m3_s, 'flow')}; at half that flow"
        f" {said(facts.half.lamp_W, 'power')}. Nearly empty: wide open"
        f" {said(facts.openings[1][-1].lamp_W, 'power')}.",
        "valve's travel [%]", PERCENT,
        [strip("light", "lamp", "power", lambda one: one.lamp_W),
         strip("flow", "pump", "flow", lambda one: one.flow_m3_s),
         strip(f"joules that a {said.everyday.measure} gives the lamps", "level",
               "energy by volume", lambda one: one.J_m3)])
