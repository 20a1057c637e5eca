"""The sentences of the page, with a rig's numbers in them, as plain text.

Everyday equivalents carry their source beside them.  `said` writes a value for its readers.
"""

import textwrap
from typing import NamedTuple

from forebay.explain.everyday import CELL_J
from forebay.explain.facts import Facts
from forebay.explain.saying import PRINTED, Saying, printed, saying
from forebay.rig.machines import STILL_AIR_W_M2_K
from forebay.showing import METRIC, System
from forebay.sun.window import DEFAULT_AIR_DEGC
from keeper.physics.panel import REFERENCE_W_M2
from keeper.physics.water import SPECIFIC_HEAT_J_KG_K

WIDTH = 80


class Alike(NamedTuple):
    """A thing of daily life: how it reads with its number, and where its figure is from."""

    text: str
    source: str


def lead(facts: Facts, said: Saying) -> list[str]:
    """Return what the rig is, in three sentences."""
    return [
        f"By day a solar panel of {said(facts.values['panel.power_W'], 'power')} drives a small"
        f" pump that lifts water {said(facts.lift_m, 'length')} into a high tank.",
        f"In the evening the same water comes down through a valve, a nozzle and a small turbine"
        f" with a generator: a full tank, {said(facts.store_m3, 'volume')}, lights lamps of"
        f" {said(facts.night.lamp_W, 'power')} for {said(facts.night.hours_s, 'time')}.",
        f"Nothing is burnt and no water is used up; of the {said(facts.store_J, 'energy')} that"
        f" the lifted water holds, {said(facts.night.of_store, 'ratio')} reach the lamps"
        " as electricity, and this page shows where the rest goes."]


def amount_and_rate(facts: Facts, said: Saying) -> list[str]:
    """Return why a joule that is stored is not a watt."""
    night, measure = facts.night, said.everyday.measure
    return [
        f"A joule is an amount, as a {measure} is. A watt is a rate, as a {measure} a minute is:"
        " one joule in each second. A tank holds joules; a lamp takes watts, for as long as it is"
        " lit, and its watts times its seconds are the joules that it has had.",
        f"The full tank holds {said(facts.store_J, 'energy')}, which is"
        f" {said(facts.store_J, 'energy in hours')}: {said(facts.store_m3, 'volume')} whose"
        f" middle stands {said(facts.head_m, 'length')} above the nozzle. If nothing were lost,"
        f" that would be {said(night.lamp_W, 'power')} for"
        f" {said(facts.store_J / night.lamp_W, 'time')}, or one kilowatt for"
        f" {said(facts.store_J / 1000.0, 'time')}: the same amount at another rate. With its"
        f" losses it is {said(night.lamp_W, 'power')} for {said(night.hours_s, 'time')}."]


def alike(facts: Facts, said: Saying) -> list[Alike]:
    """Return what else holds or takes as much energy as the full tank."""
    store_J, things = facts.store_J, said.everyday
    return [
        Alike(f"{said(store_J / CELL_J, 'count')} rechargeable AA cells, full",
              "2000 mAh at 1.2 V, by their label"),
        Alike(f"a person of {things.weighs} who climbs"
              f" {said(store_J / things.stairs_J, 'count')} storeys",
              f"mass x fall x {things.storey}; common practice, no source"),
        Alike(f"the warmth that heats a {things.measure} of water by"
              f" {said(store_J / things.measure_J_K, 'temperature difference')}; to boil it takes"
              f" {printed(things.warmer)}",
              f"specific heat {SPECIFIC_HEAT_J_KG_K:.0f} J/(kg K), IAPWS-95"),
        Alike(f"{said(facts.values['supply.board_load_W'], 'power')}, what the board itself uses,"
              f" for {said(store_J / facts.values['supply.board_load_W'], 'time')}",
              "this rig's description")]


def lasting(facts: Facts, said: Saying) -> list[str]:
    """Return how the hours follow the brightness."""
    dim, bright = facts.lights[0], facts.lights[-1]
    text = (f"At {said(bright.lamp_W, 'power')} a full tank lasts"
            f" {said(bright.hours_s, 'time')}.")
    if len(facts.lights) > 1:
        text += (f" At {said(dim.lamp_W, 'power')}, {said(dim.lamp_W / bright.lamp_W, 'ratio')}"
                 f" of that, it lasts {said(dim.hours_s, 'time')}:"
                 f" {said(dim.hours_s / bright.hours_s, 'count')} times as long, and not"
                 f" {said(bright.lamp_W / dim.lamp_W, 'count')} times. Less light saves little"
                 " water; lamps that are off save all of it.")
    return [text, f"More than {said(facts.brightest_W, 'power')} the tank cannot give when it is"
            " nearly empty, however far the valve opens."]


def half_flow(facts: Facts, said: Saying) -> list[str]:
    """Return why half the flow is not half the light, with the rig's own numbers."""
    wide, half, after = facts.wide, facts.half, facts.half_light
    measure = said.everyday.measure
    return [
        f"With the valve wide open under a full tank {said(wide.flow_m3_s, 'flow')} leave the"
        f" nozzle at {said(wide.jet_m_s, 'speed')} and give {said(wide.lamp_W, 'power')} of"
        f" light. Let half as much through: {said(half.flow_m3_s, 'flow')}.",
        f"The nozzle is a hole of one size, so half the water leaves it at half the speed,"
        f" {said(half.jet_m_s, 'speed')}. At half the speed each {measure} carries a quarter of"
        f" the energy; and there are half as many {measure}s a minute. A quarter of a half is an"
        f" eighth: the jet falls from {said(wide.jet_W, 'power')} to"
        f" {said(half.jet_W, 'power')}. The rest of the height is lost as friction in"
        " the half-shut valve.",
        f"Then the bearings and the lamps take their fixed toll: they ask for as much from a weak"
        f" jet as from a strong one. What is left is {said(half.lamp_W, 'power')},"
        f" {said(half.lamp_W / wide.lamp_W, 'ratio')} of the light for half of the water.",
        f"Half of the light, {said(after.lamp_W, 'power')}, still takes"
        f" {said(after.flow_m3_s, 'flow')}: {said(after.flow_m3_s / wide.flow_m3_s, 'ratio')} of"
        f" the water. A {measure} gives {said(wide.J_m3, 'energy by volume')} with the valve open"
        f" and {said(half.J_m3, 'energy by volume')} at half the flow."]


def joules(facts: Facts, said: Saying) -> list[str]:
    """Return what the bars show: how far a full tank's energy comes, and what the board takes."""
    best_J = facts.up[0].W_in * facts.sun_scale_s
    worst = max(((lost, name) for step in facts.down for name, lost in step.losses))
    unused = facts.up[0].losses[0][1] / facts.up[0].W_in
    nights = facts.board_day_J / facts.lamps_J
    return [
        f"To fill the tank in full sun takes {said(facts.fill_s, 'time')}. In that time the panel"
        f" could give {said(best_J, 'energy')}; the tank then holds"
        f" {said(facts.store_J, 'energy')}; the lamps get {said(facts.lamps_J, 'energy')}, at"
        f" {said(facts.night.lamp_W, 'power')}.",
        f"Of what the panel could give, {said(unused, 'ratio')} is sun that the pump does not ask"
        " for: a panel is made large so that the pump works on a dull day as well. Sunlight on"
        " the panel is about five"
        " times that bar again (a silicon panel passes on about a fifth; common practice, no"
        " source).",
        f"On the way down the largest loss is {_loss_said(worst[1])}:"
        f" {said(worst[0] * facts.night_scale_s, 'energy')}.",
        f"The board that watches all this takes"
        f" {said(facts.values['supply.board_load_W'], 'power')} by day and by night,"
        f" {said(facts.board_day_J, 'energy')} in 24 h: {said(nights, 'count')} times what the"
        " lamps get from a full tank. It comes from the panel too, by way of a small battery."]


def _loss_said(name):
    return {"throttled in the valve": "what is throttled in the valve",
            "on the buckets, and with the water that leaves": "on the buckets and with the water"
            " that leaves them"}.get(name, name)


def cautions(facts: Facts, said: Saying) -> list[tuple[str, str]]:
    """Return what can hurt someone: what it is, and what to mind."""
    values = facts.values
    return [
        ("Weight overhead", f"A full tank holds {said(facts.full_tank_kg, 'mass')} of water,"
         f" {said(values['upper.base_height_m'], 'length')} above the nozzle. What carries it,"
         " and the ground below, must be laid out for that weight, for wind and for wet ground,"
         " by the local code and by somebody licensed where the code asks for it. Nobody stays"
         " below it."),
        ("Water and electricity", "Keep every joint and box above splash and flood, and lead"
         " the overflow away from them. The panel gives its full voltage whenever it is light:"
         " only its isolator takes it off. A battery can feed a fault: it has a fuse. Nothing"
         " here may be joined to the mains."),
        ("Heat", "The motor, the clamp and the dump load get hot enough to burn when something"
         " else has failed. Leave air round them, and nothing that burns."),
        ("Children and animals", "A tank with a lid that does not lock drowns a child. Lids"
         " locked, ladder away, the turbine behind a guard: it turns when nobody expects it."),
        ("Freezing", "Water that freezes bursts pipes. Drain pump, filter and pipes before the"
         " first frost; no part of the rig does that by itself."),
        ("Pressure", f"A valve that shuts at once hammers the penstock above its"
         f" {said(values['penstock.pressure_rating_Pa'], 'pressure')}. Shut the"
         " hand valve slowly."),
        ("Not for drinking", "Water that stands in tanks and hoses in the sun is no drinking"
         " water. Taking water from a stream or a supply may need leave.")]


def assumptions(facts: Facts, said: Saying) -> list[str]:
    """Return what the page takes for granted."""
    found = [
        "All figures come from this rig's description and the physics that its board and its"
        " simulation use. A rig that is built does better or worse: measure.",
        f"Full sun is {REFERENCE_W_M2:.0f} W on each square metre of the panel, its cells at"
        f" {said(facts.cell_degC, 'temperature')}: the air's"
        f" {said(facts.cell_degC - REFERENCE_W_M2 / STILL_AIR_W_M2_K, 'temperature')} and what"
        " such a sun adds in still air.",
        "The lower tank stands half-way between its low float and full.",
        "Light in watts is the electricity that the lamps take; how bright that looks is the"
        " lamps' affair.",
        "All runs steadily: no cloud, no start, no move of the valve; the battery's charger is"
        " off while the pump runs.",
        "The store counts between the empty and the full mark of the upper tank, and its energy"
        " above the nozzle, where the turbine can take it."]
    if "site.air_temperature_degC" not in facts.values:
        found.append(f"The description states no air temperature:"
                     f" {said(DEFAULT_AIR_DEGC, 'temperature')} is taken.")
    if facts.assumed is not None:
        found.append(f"{facts.assumed} of the description's figures are themselves assumed, not"
                     " measured or read from a label." if facts.assumed else
                     "No figure of the description is marked as assumed.")
    return found


def lines(facts: Facts, system: System = METRIC) -> list[str]:
    """Return the page in short for a terminal, at most 80 columns, in plain letters."""
    said = saying(system)
    told = [*lead(facts, said), half_flow(facts, said)[-2], joules(facts, said)[-1]]
    # Signs go after the wrapping, so that a value and its unit stay on one line.
    return [facts.name, *(_plain(line) for one in told for line in textwrap.wrap(
        one, WIDTH, break_on_hyphens=False))]


def _plain(text):
    for plain, sign in PRINTED.items():
        text = text.replace(sign, plain)
    return text
