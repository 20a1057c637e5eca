"""What should be nothing if every meter were right: one list, each with its shared errors.

Nodes are taken apart where the parts rest on other meters: the panel's with the pump on,
and without it.  Two closures rest on the description, by what [model] says of it: the
water that a wheel needs for its volts and amps, and the board's load.  Floats say at two
levels what there is.
"""

from collections.abc import Iterator

import numpy as np

from forebay.balance.boardload import stated_W
from forebay.balance.electric import LEAST_ENERGY_J, Electric
from forebay.balance.instruments import HALF_WIDTH, L_PER_M3, tag
from forebay.balance.leaks import LEAK, Leak, first_moves
from forebay.balance.light import flow_m3_s
from forebay.balance.measured import Measured
from forebay.balance.spans import FILL_STATES, LIGHT_STATES
from forebay.balance.sums import METERED
from forebay.balance.water import Water
from forebay.rig.governing import turbine_set
from forebay.rig.known import SCALED
from keeper import channels as ch
from keeper.physics import of_rig

S_PER_H = 3600.0
STEP = -0.01         # of a figure of the machine, for the slope by it; as in `light`
# Volts and amps of a light are taken as steady; they are held to a few hundredths, and the
# flow bends little with them (a guess).
STEADY_FRAC = 0.02
LEAST_LIGHT_S = 600.0
NAMES = {
    "pumping": "panel less pump and charger, with the pump on",
    "idle": "panel less charger, with the pump off",
    "generator": "generator less lamps and clamp",
    "fill": "pumped up less gained, while filling",
    "discharge": "lost by the tank less let down, while there was light",
    "wheel": "water that the wheel needs for this light, less let down",
    "board": "the board's load, less what is stated",
    "full_float": "level at the full float, less its mark",
    "empty_float": "level at the low float, less its mark",
}
# Instruments without which a closure says nothing.
NEEDS = {
    "pumping": ("panel_meter", "pump_meter", "supply_meter"),
    "idle": ("panel_meter", "pump_meter", "supply_meter"),
    "generator": ("generator_meter", "lamp_meter"),
    "fill": ("flow_up", "level"), "discharge": ("flow_down", "level"),
    "wheel": ("generator_meter", "lamp_meter", "flow_down"),
    "board": ("supply_meter",),
    "full_float": ("level", "full_float"), "empty_float": ("level", "empty_float"),
}


def closures(part: Electric, flow: Water, figures: dict, leak: Leak, fitted,
             ) -> dict[str, Measured]:
    """Return what is left of each closure that this rig and time have, by the keys of `NAMES`.

    figures: the metered figures of the balance by name; leak: the tank's verdict, whose
    water is no meter's error.
    """
    found = dict(_all(part, flow, figures, leak))
    return {name: one for name, one in found.items()
            if set(NEEDS[name]) <= set(fitted) and one.u > 0}


def _all(part, flow, figures, leak) -> Iterator[tuple[str, Measured]]:
    yield from _panel(part, figures)
    yield "generator", figures["generator_node"]
    leaked_L_s = leak.litres_h / S_PER_H if leak.kind == LEAK and leak.litres_h else Measured(0.0)
    lasted = {"fill": 0.0, "discharge": 0.0}
    for kind, begin_s, end_s in flow.legs:
        lasted[kind] += end_s - begin_s
    if lasted["fill"] and not part.sums.level_at_rim:
        yield "fill", figures["fill_residual"] - leaked_L_s * lasted["fill"]
    if lasted["discharge"]:
        yield "discharge", figures["discharge_residual"] - leaked_L_s * lasted["discharge"]
    wheel = _wheel(part, figures["down"])
    if wheel is not None:
        yield "wheel", wheel
    if part.is_load_seen:
        yield "board", figures["board_load"] - stated_W(part.rig) * part.spans.seconds
    yield from _floats(part, flow)


def _panel(part, figures):
    """The panel's node with the pump on, and without: each from the totals of its spans."""
    pumps = np.isin(part.spans.state, FILL_STATES)
    load_W = part.load_W
    for name, side, spans in (("pumping", "on", pumps), ("idle", "off", ~pumps)):
        mine = part.spans.where(spans)
        energy = {key: part.metered(mine, getattr(flowed, side), *where)
                  for (key, *where), flowed in zip(METERED[:4], part.sums.flowed, strict=False)}
        took = load_W * mine.seconds if name == "pumping" else (
            figures["board_load"] - load_W * part.spans.where(pumps).seconds)
        battery = energy["supply_in"] - energy["supply_out"] + took
        charge = battery * part.panel_volts_a_supply_volt(
            load_W, getattr(part.sums.charged, side))
        left = energy["panel"] - energy["pump"] - charge
        yield name, left.with_noise(LEAST_ENERGY_J * HALF_WIDTH)


def _wheel(part, down):
    """Return the water [L] that a wheel needs for what was read of its light, less `down`."""
    volts_s, amps_s, shone_s = part.sums.wheel.tolist()
    light_s = part.spans.of(LIGHT_STATES).seconds
    if light_s < LEAST_LIGHT_S or shone_s < LEAST_LIGHT_S:
        return None
    volt, ampere = (np.array([one / shone_s]) for one in (volts_s, amps_s))
    values = part.rig.plant()
    share = float(down.value > 0) and light_s * L_PER_M3

    def litres(machine, volt_by=1.0, ampere_by=1.0):
        return share * float(flow_m3_s(machine, volt * volt_by, ampere * ampere_by)[0])

    machine = turbine_set(values)
    found = Measured(litres(machine))
    for key, name in SCALED.items():
        other = turbine_set({**values, name: values[name] * (1.0 + STEP)})
        found = found.with_part(key, (litres(other) - found.value) / STEP * values[key])
    sensors = part.rig.sensors
    for channel, frac, by in ((ch.GENERATOR_MV, sensors.voltage_frac, (1.0 + STEP, 1.0)),
                              (ch.LAMP_MA, sensors.current_frac, (1.0, 1.0 + STEP))):
        slope = (litres(machine, *by) - found.value) / STEP
        found = found.with_part(tag(channel), slope * frac)
    return found.with_part("light that is not steady", STEADY_FRAC * found.value) - down


def _floats(part, flow):
    """Yield (name, level [m] less the mark) of the first move of the full and low floats."""
    levels = flow.levels
    if not levels.count:
        return
    values = part.rig.plant()
    tank = of_rig.tank(values, "upper.")
    for name, at_s in first_moves(part.rows, part.ends_s).items():
        mark_m = tank.level_m(values[f"upper.{name.split('_')[0]}_volume_m3"])
        yield name, (levels.at(at_s) - mark_m).with_part(
            f"place of {name}", values["model.float_place_m"])
