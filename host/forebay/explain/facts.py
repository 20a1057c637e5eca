"""The figures that the page stands on, all from one rig by the one physics.

Values are in SI.  Whatever a figure rests on that no rig states is a constant here,
and on the page.
"""

from collections.abc import Mapping
from typing import Any, NamedTuple

from forebay.plan import chain
from forebay.plan.chain import Step
from forebay.rig import governing, machines
from keeper.physics import of_rig
from keeper.physics.panel import REFERENCE_W_M2

DAY_S = 86400.0
POINTS = 60              # of a curve
LEAST_OF_CURVE = 0.1     # of the dimmest step: where the curve of hours begins
HALF = 0.5


class Light(NamedTuple):
    """One brightness: what it takes of the water, and for how long there is enough."""

    lamp_W: float
    flow_m3_s: float
    hours_s: float
    J_m3: float
    of_store: float      # share of the stored energy that the lamps get


class Opening(NamedTuple):
    """What comes at one travel of the valve under one head."""

    travel_frac: float
    flow_m3_s: float
    lamp_W: float
    J_m3: float          # of lamp energy by volume
    jet_m_s: float
    jet_W: float


class Facts(NamedTuple):
    """All that the page says of a rig."""

    name: str
    values: Mapping[str, Any]
    store_m3: float
    store_J: float
    full_tank_kg: float
    head_m: float        # of the stored water in the mean
    heads_m: tuple[float, float]  # of a full tank, and of one that has just emptied
    lift_m: float        # with the lower tank half-way
    gap_m: float         # from the overflow to the end of the rising main
    cell_degC: float
    up: list[Step]
    fill_m3_s: float
    fill_s: float
    lights: list[Light]  # one a brightness step
    night: Light         # at the brightness of the night
    brightest_W: float   # that the lowest head still gives
    hours: list[Light]   # the curve of hours against power
    openings: list[list[Opening]]  # over the travel, for each of heads_m
    wide: Opening        # the open valve under a full tank
    half: Opening        # half of its flow
    half_light: Light    # half of its light
    down: list[Step]     # at the brightness of the night
    board_day_J: float
    assumed: int | None  # figures of the rig that are assumed; None = its file marks none

    @property
    def lamps_J(self) -> float:
        """What the lamps get from a full tank at the brightness of the night [J]."""
        return self.night.lamp_W * self.night.hours_s

    @property
    def sun_scale_s(self) -> float:
        """What turns a power of `up` into the energy of a full tank [s]."""
        return self.store_J / self.up[-1].W_out

    @property
    def night_scale_s(self) -> float:
        """What turns a power of `down` into the energy of a full tank [s]."""
        return self.store_J / self.down[0].W_in


def facts_of(rig) -> Facts:
    """Return the figures of a forebay.rig.Rig."""
    values = rig.plant()
    store_m3 = values["upper.full_volume_m3"] - values["upper.empty_volume_m3"]
    heads_m = governing.highest_head_m(values), governing.lowest_head_m(values)
    lift_m, cell_degC = chain.mean_lift_m(values), chain.sunlit_cell_degC(values)
    up = chain.uphill(values, REFERENCE_W_M2, cell_degC, lift_m)
    weight_N_m3 = _weight_N_m3(values)
    fill_m3_s = up[-1].W_in / (weight_N_m3 * lift_m)  # the last step begins at the inlet
    night_W, least_W = values["night.setpoint_W"], machines.least_light_W(values)
    wide = opening(values, 1.0, heads_m[0])
    half = opening(values, _travel_frac(values, HALF * wide.flow_m3_s, heads_m[0]), heads_m[0])
    assumed = rig.assumed if rig.marked else None
    return Facts(
        name=values["rig.name"], values=values, store_m3=store_m3,
        store_J=chain.store_J(values),
        full_tank_kg=values["upper.overflow_volume_m3"] * of_rig.water(values)[0],
        head_m=chain.stored_head_m(values), heads_m=heads_m, lift_m=lift_m,
        gap_m=air_gap_m(values), cell_degC=cell_degC, up=up, fill_m3_s=fill_m3_s,
        fill_s=store_m3 / fill_m3_s,
        lights=[light(values, one) for one in values["lamps.steps_W"]],
        night=light(values, night_W), brightest_W=least_W, hours=_hours(values, least_W),
        openings=[[opening(values, place / POINTS, head_m) for place in range(POINTS + 1)]
                  for head_m in heads_m],
        wide=wide, half=half, half_light=light(values, HALF * wide.lamp_W),
        down=chain.downhill(values, night_W, chain.stored_head_m(values)),
        board_day_J=values["supply.board_load_W"] * DAY_S,
        assumed=None if assumed is None else len(assumed))


def air_gap_m(values: Mapping[str, Any]) -> float:
    """Return the air [m] between the water at its overflow and the end of the rising main."""
    brim_m = of_rig.tank(values, "upper.").level_m(values["upper.overflow_volume_m3"])
    return values["upper.inlet_height_m"] - values["upper.base_height_m"] - brim_m


def light(values: Mapping[str, Any], lamp_W: float) -> Light:
    """Return what a brightness [W] takes of the water between 71H-UP and 71L-UP."""
    flow = governing.turbine_set(values).flow_for_lamps_m3_s(lamp_W)
    store_m3 = values["upper.full_volume_m3"] - values["upper.empty_volume_m3"]
    hours_s = store_m3 / flow
    return Light(lamp_W, flow, hours_s, lamp_W / flow, lamp_W * hours_s / chain.store_J(values))


def opening(values: Mapping[str, Any], travel_frac: float, head_m: float) -> Opening:
    """Return what comes at a travel of the valve, 0 to 1, under a head [m]."""
    machine = governing.turbine_set(values)
    flow, _, _, lamp_W = machine.steady(travel_frac, head_m)
    return Opening(travel_frac, flow, lamp_W, lamp_W / flow if flow else 0.0,
                   flow / machine.area, machine.jet_power_W(flow))


def _travel_frac(values, flow_m3_s, head_m):
    return governing.turbine_set(values).travel_for_frac(flow_m3_s, head_m)


def _hours(values, brightest_W):
    least_W = LEAST_OF_CURVE * min(values["lamps.steps_W"])
    return [light(values, least_W + (brightest_W - least_W) * place / POINTS)
            for place in range(POINTS + 1)]


def _weight_N_m3(values):
    density, _, fall = of_rig.water(values)
    return density * fall


def document(facts: Facts) -> dict[str, Any]:
    """Return the figures as a JSON document, as described in docs/json.md."""
    def lit(one):
        return {"lamp_W": one.lamp_W, "flow_m3_s": one.flow_m3_s, "time_s": one.hours_s,
                "output_J_m3": one.J_m3, "of_store_frac": one.of_store}

    def opened(one):
        return {"travel_frac": one.travel_frac, "flow_m3_s": one.flow_m3_s,
                "lamp_W": one.lamp_W, "output_J_m3": one.J_m3}

    def passed(step, scale_s):
        return {"step": step.name, "in_J": step.W_in * scale_s, "out_J": step.W_out * scale_s,
                "losses_J": {name: lost * scale_s for name, lost in step.losses}}

    return {
        "rig": facts.name, "store_J": facts.store_J, "store_m3": facts.store_m3,
        "full_tank_kg": facts.full_tank_kg, "head_m": facts.head_m,
        "head_full_m": facts.heads_m[0], "head_empty_m": facts.heads_m[1],
        "lift_m": facts.lift_m, "air_gap_m": facts.gap_m, "cell_degC": facts.cell_degC,
        "fill_s": facts.fill_s, "fill_m3_s": facts.fill_m3_s,
        "lights": [lit(one) for one in facts.lights], "night": lit(facts.night),
        "half_light": lit(facts.half_light), "brightest_W": facts.brightest_W,
        "valve_full": [opened(one) for one in facts.openings[0]],
        "valve_empty": [opened(one) for one in facts.openings[1]],
        "valve_half_flow": opened(facts.half),
        "up": [passed(step, facts.sun_scale_s) for step in facts.up],
        "down": [passed(step, facts.night_scale_s) for step in facts.down],
        "lamps_J": facts.lamps_J, "board_day_J": facts.board_day_J, "assumed": facts.assumed}
