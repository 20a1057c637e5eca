"""What a reader should be able to answer from the page of any rig: questions as data.

Each answer is worked out from the rig's description alone: by hand where a formula of
school physics does it, by the machine of keeper.physics where the rig's curves decide.
"""

from collections.abc import Callable
from typing import NamedTuple

from forebay.explain.saying import Saying
from forebay.rig import governing
from keeper.physics import of_rig
from keeper.physics.generation import TurbineSet
from keeper.physics.solar_pump import SolarPump

LITRE_m3, DAY_S = 1e-3, 86400.0


class Question(NamedTuple):
    """A question, and how its answer stands on the page.

    answer: of values, and of how the page says a value, to text.
    """

    text: str
    answer: Callable[[dict, Saying], str]


def store_m3(values):
    return values["upper.full_volume_m3"] - values["upper.empty_volume_m3"]


def turbine(values):
    return TurbineSet(*of_rig.turbine_set(values, *of_rig.water(values)))


def store_J(values):
    """m g h in slices of the level, by the midpoint rule: not the page's integral."""
    density, _, fall = of_rig.water(values)
    tank = of_rig.tank(values, "upper.")
    slices, total = 2000, 0.0
    for place in range(slices):
        volume = values["upper.empty_volume_m3"] + (place + 0.5) / slices * store_m3(values)
        height = values["upper.base_height_m"] + tank.level_m(volume)
        total += density * store_m3(values) / slices * fall * height
    return total


def hours_s(values):
    """How long the light of the night lasts: the water over its flow."""
    flow = turbine(values).flow_for_lamps_m3_s(values["night.setpoint_W"])
    return store_m3(values) / flow


def wide(values):
    """(flow, light) of the open valve under a full tank."""
    found = turbine(values).steady(1.0, governing.highest_head_m(values))
    return found[0], found[3]


def half_share(values):
    """Of the open valve's light, at half its flow."""
    machine, head_m = turbine(values), governing.highest_head_m(values)
    flow, light_W = wide(values)
    travel = machine.travel_for_frac(flow / 2, head_m)
    return machine.steady(travel, head_m)[3] / light_W


def fill_s(values):
    """A full tank over the pump's flow in full sun: cells 40 K over the air (Faiman)."""
    air_degC = min(values.get("site.air_temperature_degC", 20.0),
                   values["site.hottest_air_degC"])
    low, full = values["lower.low_volume_m3"], values["lower.full_volume_m3"]
    surface = of_rig.tank(values, "lower.").level_m((low + full) / 2)
    lift_m = values["upper.inlet_height_m"] - values["lower.base_height_m"] - surface
    pump = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
    return store_m3(values) / pump.steady(1000.0, air_degC + 40.0, lift_m)[0]


def valve_loss_J(values):
    """What the valve throttles of a full tank's energy: what jet, nozzle and pipe leave of it."""
    machine = turbine(values)
    density, _, fall = of_rig.water(values)
    flow = machine.flow_for_lamps_m3_s(values["night.setpoint_W"])
    used_m = (machine.pipe.loss_m(flow)
              + (machine.jet_s2_m5 + machine.nozzle_s2_m5) * flow * flow)
    return store_J(values) - density * fall * store_m3(values) * used_m


QUESTIONS = (
    Question("How much water does the light have?",
             lambda v, said: said(store_m3(v), "volume")),
    Question("How many joules does the full tank hold?",
             lambda v, said: said(store_J(v), "energy")),
    Question("For how long does the light of the night last?",
             lambda v, said: said(hours_s(v), "time")),
    Question("What part of the stored joules reaches the lamps?",
             lambda v, said: said(v["night.setpoint_W"] * hours_s(v) / store_J(v), "ratio")),
    Question("What part of the light is left at half the flow?",
             lambda v, said: said(half_share(v), "ratio")),
    Question("How long does full sun take to fill the tank?",
             lambda v, said: said(fill_s(v), "time")),
    Question("What does the board itself use in a day?",
             lambda v, said: said(v["supply.board_load_W"] * DAY_S, "energy")),
    Question("How many rechargeable AA cells hold as much?",
             # 2000 mAh x 1.2 V = 2.4 Wh, the handbook row of the project's check values.
             lambda v, said: said(store_J(v) / (2.4 * 3600), "count") + " rechargeable AA cells"),
    Question("How much does the full tank weigh?",
             # A litre of water is a kilogram, less a thousandth at 12 degC.
             lambda v, said: said(v["upper.overflow_volume_m3"] * of_rig.water(v)[0], "mass")),
    Question("What does the valve throttle away in the evening?",
             lambda v, said: said(valve_loss_J(v), "energy")),
)
