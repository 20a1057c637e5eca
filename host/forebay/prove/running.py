"""Steps with something running: valve, pump, what stops the pump, lamps.

Each begins by ending the maintenance in which the steps at rest were done, and leaves the rig
at standstill.  The board decides: what its protection holds off does not start.
"""

from collections.abc import Callable
from statistics import fmean

from forebay.asking import Choice, Done
from forebay.prove import found
from forebay.prove.currents import Currents, judge_battery, judge_lamps, judge_panel
from forebay.prove.found import Result, failed, passed
from forebay.prove.scene import STEADY, Live, Scene, StepSkipped, acts, is_closed, reads
from forebay.words.operation import REFUSALS
from forebay.words.protection import ELEMENTS
from keeper import channels as ch
from keeper import modes
from keeper.operation import orders, proving

HOLD_MIN = 60            # for which nothing but the step's own order may start something
OPEN_PERMILLE, MOVED_PERMILLE = 900, 300
STARTS_S = 420.0         # after a trip the longest usual wait of a rig is 300 s
OFF_S = 3.0              # a stop ends a pump at once; two looks and a line's answer
SAMPLES = 8
MOST_SAMPLES = 60
SETTLE_S = 5.0           # a charger finds its current in some seconds; a guess
VOLTS_MV = 1500          # a generator that turns a diode open gives more
FLOWS_UL_S = 4000        # a meter near its stall reads less; a guess
LIGHT_MIN = 10
LIT_S = 90.0             # a light has come to rest by then
DRAIN_MIN = 10           # longer than STARTS_S: a drain that is held off begins late
DIRECTION_MA = 10


def quiet(scene: Scene) -> None:
    """Nothing starts by itself, and no maintenance."""
    scene.order(orders.REST, HOLD_MIN)
    scene.order(orders.MAINTAIN, 0)


def hold(scene: Scene) -> None:
    """Everything stands, whoever presses what."""
    scene.order(orders.MAINTAIN, 2)


def _held_by(live: Live) -> str:
    """Return in words what keeps the rig from starting."""
    if live["lockouts"]:
        return "locked out: reset it at the rig or by order once its cause is mended"
    acting = [ELEMENTS[one].id + ", " + ELEMENTS[one].plain.lower() for one in ELEMENTS
              if live["acting"] >> one - 1 & 1]
    return "held off by " + "; ".join(acting[:3]) if acting else "the board's wait after a stop"


def _waits(live: Live) -> str:
    """Return in words what a start waits for, behind the time that is left."""
    return f"; {_held_by(live)}"


def _refusal(number: int) -> str:
    return REFUSALS.get(number, f"reason {number}")


# The valve

def valve(scene: Scene) -> Result:
    """Open the valve and shut it, hand valve shut: it follows, and reads shut where it is shut."""
    scene.ask(Done("valve", "Shut the hand valve before the turbine. The motor valve opens next:"
                   " no hand near its lever."))
    live = scene.look()
    if reads(live, "valve_permille") is None:
        return found.missing("valve_permille", "no reading")
    if live["out_valve_permille"] == 0 and live["valve_permille"] >= OPEN_PERMILLE:
        return _which_way(scene)
    if acts(live, "48-VLV") or acts(live, "33-SHT"):
        return failed("zero ZI-VLV", f"The valve is told shut and reads"
                      f" {live['valve_permille'] / 10:.1f} %, beyond what may be learnt: its zero"
                      " in rig.toml, or the sensor has slipped on its shaft")
    quiet(scene)
    refused = scene.order(orders.DRAIN_DOWN, 1, DRAIN_MIN)
    try:
        if refused:
            return failed("valve order", f"the board refuses to open it: {_refusal(refused)}")
        return _opens_and_shuts(scene)
    finally:
        scene.order(orders.DRAIN_DOWN, 0)


def _which_way(scene):
    """Told shut and read open: only eyes tell which of the two is wrong."""
    seen = scene.ask(Choice("valve-lever", "The valve is told shut and reads open. Look at its"
                            " lever: how does it stand?",
                            {"open": "the plug is open", "shut": "the plug is shut"}))
    return found.VALVE_MOTOR if seen == "open" else found.VALVE_SENSOR


def _opens_and_shuts(scene):
    travel_s = scene.values["valve.travel_s"]
    if scene.until(lambda live: live["state"] == modes.DRAINING, STARTS_S, _waits) is None:
        return failed("valve held", f"The valve is not opened: {_held_by(scene.look())}")
    opened = scene.until(lambda live: (reads(live, "valve_permille") or 0) >= OPEN_PERMILLE
                         or live["state"] != modes.DRAINING, 3 * travel_s + 6)
    if opened is None or opened["state"] != modes.DRAINING:
        scene.order(orders.DRAIN_DOWN, 0)
        rises = scene.until(lambda live: (reads(live, "valve_permille") or 0) >= MOVED_PERMILLE
                            and live["out_valve_permille"] == 0, 3 * travel_s + 6)
        return found.VALVE_MOTOR if rises else found.VALVE_STILL
    if (reads(opened, "flow_down_uL_s") or 0) > FLOWS_UL_S:
        return failed("hand valve", "Water comes though the hand valve is said to be shut")
    scene.order(orders.DRAIN_DOWN, 0)
    shut_permille = 1000 * scene.values["valve.shut_reading"] + 10
    shut = scene.until(lambda live: (reads(live, "valve_permille") or 0) <= shut_permille
                       and live["state"] == modes.STANDSTILL, 3 * travel_s + 20)
    if shut is None:
        percent = scene.look()["valve_permille"] / 10
        return failed("zero ZI-VLV", f"Told shut, the valve reads {percent:.1f} %: its zero, or it"
                      " does not shut")
    return passed("the valve opened and shut, and its position followed")


# The pump

class _Samples:
    """The newest looks of a while, and their means."""

    def __init__(self):
        self.looks: list[dict[str, int]] = []

    def add(self, live):
        self.looks = [*self.looks, dict(live)][-MOST_SAMPLES:]

    def mean(self, name: str) -> float | None:
        """Return the mean of a reading over the newest looks, None if one cannot be trusted."""
        values = [reads(one, name) for one in self.looks[-SAMPLES:]]
        known = [value for value in values if value is not None]
        return fmean(known) if values and len(known) == len(values) else None

    def currents(self) -> Currents:
        """Return the three currents of the panel's side."""
        return Currents(self.mean("panel_mA"), self.mean("pump_mA"), self.mean("supply_mA"))


def _sampled(scene):
    """Return some looks at a rig that stands, and whose currents have come to rest."""
    scene.until(lambda live: live["state"] == modes.STANDSTILL, STARTS_S, _waits)
    scene.sleep(SETTLE_S)
    samples = _Samples()
    for _ in range(SAMPLES):
        samples.add(scene.look())
        scene.sleep(0.2)
    return samples


def pump(scene: Scene) -> Result:
    """Try the pump: current, then water, and what each reading says of the wiring."""
    scene.ask(Done("pump", "Hand valve shut, panel uncovered, isolator closed, water in the lower"
                   " tank, pump and hose full of water. Somebody stays at the stop. The pump is"
                   " tried next."))
    quiet(scene)
    rest = _sampled(scene)
    panel_mV = rest.mean("panel_mV")
    if panel_mV is not None and panel_mV < 1000 * _dark_V(scene):
        return _no_panel(scene)
    if refused := _try_pump(scene):
        return failed("pump order", f"the board refuses to try the pump: {_refusal(refused)}")
    if scene.until(lambda live: live["state"] in (modes.TRIAL, modes.PUMPING), STARTS_S,
                   _waits) is None:
        return failed("pump held", f"The pump is not tried: {_held_by(scene.look())}")
    pumps = _Pumps(scene, rest)
    return scene.watch(pumps, pumps.ended, scene.values["limits.trial_s"] + 30)


def _dark_V(scene):
    return scene.values.get("night.dark_voltage_V") or 3.0


def _try_pump(scene):
    return scene.order(orders.PUMP_ALLOWED, 1) or scene.order(orders.PROVE, proving.TRY_PUMP)


def _no_panel(scene):
    sun = scene.ask(Choice("sun", "The panel gives no volts. Does the sun shine on it, with the"
                           " isolator closed?", {"yes": "it does", "no": "it does not"}))
    if sun == "no":
        raise StepSkipped("no sun on the panel")
    return failed(found.PANEL_OPEN, "Sun and no volts at the board: the panel's lead is open or"
                  " its two cores are swapped, or the isolator is open")


class _Pumps:
    """Judges a pump that has been switched on."""

    def __init__(self, scene, rest):
        self.scene, self.rest, self.on = scene, rest, _Samples()
        self.values = scene.values
        self.board_mA = 1000 * (self.values["supply.board_load_W"]
                                / self.values["supply.voltage_V"])
        self.useful = 1e9 * self.values["limits.useful_flow_m3_s"]
        self.wet = self.stray = self.lost = self.open = 0

    def __call__(self, live):
        if not live["out_pump_switch"]:
            return self.ended(live) if self.on.looks else None
        self.on.add(live)
        return self._wiring(live) or self._water(live)

    def _wiring(self, live):
        """Judge what a few looks at the currents say."""
        pump_mA = reads(live, "pump_mA")
        for monitor in ("pump", "panel"):
            mA = reads(live, monitor + "_mA")
            # A current beyond the negative end of its range is no reading at all.
            self.lost += (mA is not None and mA <= -DIRECTION_MA) or (
                live[monitor + "_mA"] == ch.INVALID + ch.OUT_OF_RANGE and _is_fitted(
                    self.scene, monitor))
            if self.lost >= STEADY:
                return found.reversed_shunt(monitor)
        panel_mA = reads(live, "panel_mA")
        nothing = pump_mA is not None and abs(pump_mA) < DIRECTION_MA and (
            panel_mA is None or abs(panel_mA) < 1000 * self.values["supply.charge_current_A"] + 50)
        self.open = self.open + 1 if nothing else 0
        if self.open >= 3 * STEADY:
            return failed(found.PUMP_OPEN, "Volts and no current: the path from switch to motor"
                          " and back is open")
        return None

    def _water(self, live):
        up, down = reads(live, "flow_up_uL_s"), reads(live, "flow_down_uL_s")
        meters = self.scene.rig.sensors
        if meters.flow_up != "fitted":
            return self._judged("current flows; nothing here reads the water") if len(
                self.on.looks) >= 4 * SAMPLES else None
        self.stray = self.stray + 1 if (down or 0) > FLOWS_UL_S and (up or 0) < FLOWS_UL_S else 0
        if self.stray >= STEADY:
            return found.METERS_SWAPPED
        self.wet = self.wet + 1 if (up or 0) >= self.useful else 0
        return self._judged("current, then water") if self.wet >= 2 * SAMPLES else None

    def _judged(self, said):
        wrong = judge_panel(self.rest.currents(), self.on.currents(), self.board_mA)
        return wrong or passed(f"the pump started: {said}")

    def ended(self, live):
        """The pump is off again, or its time is: what its run showed, else why."""
        wrong = judge_panel(self.rest.currents(), self.on.currents(), self.board_mA)
        if wrong:
            return wrong
        if any(acts(live, one) for one in ("48-PMP", "80-PMP", "80-LOW")) or (
                self.on.mean("pump_mA") or 0) > DIRECTION_MA:
            return found.NO_WATER_UP
        return failed("pump ended", f"The pump went off: {_held_by(live)}")


def _is_fitted(scene, monitor):
    return getattr(scene.rig.sensors, f"{monitor}_meter") == "fitted"


def stops_by(name: str, do: str) -> Callable[[Scene], Result]:
    """Return the step that sees a contact stop the running pump."""
    def step(scene: Scene) -> Result:
        if scene.look()["state"] != modes.PUMPING:
            quiet(scene)
            _try_pump(scene)
        if scene.until(lambda live: live["state"] == modes.PUMPING, STARTS_S, _waits) is None:
            return failed("pump held", f"The pump does not run: {_held_by(scene.look())}")
        scene.tell(do)
        opened = scene.until(lambda live: not is_closed(live, name), scene.patience_s)
        if opened is None:
            return failed(f"still {found.tag(name)}", f"{found.tag(name)} did not open")
        off = scene.until(lambda live: not live["out_pump_switch"]
                          and (reads(live, "pump_mA") or 0) < 5 * DIRECTION_MA, OFF_S)
        if off is None:
            return failed(f"runs on {found.tag(name)}", "The pump did not stop at once: open and"
                          " lock the isolator; do not go on")
        scene.tell("The pump stands. Back as it was.")
        if scene.until(lambda live: is_closed(live, name), scene.patience_s) is None:
            return failed(f"stays {found.tag(name)}", f"{found.tag(name)} did not close again")
        return passed(f"{found.tag(name)} stopped the running pump")
    return step


# The lamps

def light(scene: Scene) -> Result:
    """Give light at the lowest step: water, volts, current, and what they say of the wiring."""
    scene.ask(Done("light", "Guard on the turbine, lamps plugged in, water in the upper tank, hand"
                   " valve open. Somebody stays at the hand valve. Light comes next."))
    quiet(scene)
    scene.order(orders.PUMP_ALLOWED, 0, HOLD_MIN)
    rest = _sampled(scene)
    if (rest.mean("panel_mA") or 0) < DIRECTION_MA and (rest.mean("panel_mV") or 0) < 1000:
        if wrong := judge_battery(rest.mean("supply_mA"), _Pumps(scene, rest).board_mA):
            return wrong
    setpoint_mW = round(1000 * min(scene.values["lamps.steps_W"]))
    if refused := scene.order(orders.LIGHT, setpoint_mW, LIGHT_MIN):
        return failed("light order", f"the board refuses the light: {_refusal(refused)}")
    if scene.until(lambda live: live["state"] == modes.RUNNING, STARTS_S, _waits) is None:
        return failed("light held", f"No light begins: {_held_by(scene.look())}")
    lights = _Lights(scene, setpoint_mW)
    return scene.watch(lights, lights.ended, LIT_S)


class _Lights:
    """Judges a turbine that has been let run."""

    def __init__(self, scene, setpoint_mW):
        self.scene, self.setpoint_mW = scene, setpoint_mW
        self.on = _Samples()
        self.steady = self.stray = self.no_volts = self.no_amps = self.reversed = 0

    def __call__(self, live):
        if live["state"] != modes.RUNNING:
            return self.ended(live) if self.on.looks else None
        self.on.add(live)
        return self._currents(live) or self._water(live) or self._steady(live)

    def _currents(self, live):
        generator, lamp = reads(live, "generator_mA"), reads(live, "lamp_mA")
        for monitor, mA in (("generator", generator), ("lamp", lamp)):
            if mA is not None and mA <= -DIRECTION_MA:
                self.reversed += 1
                if self.reversed >= STEADY:
                    return found.reversed_shunt(monitor)
        mV = reads(live, "generator_mV") or 0
        none = mV > 1000 * self.scene.values["lamps.threshold_voltage_V"] + 1000 and (
            max(abs(generator or 0), abs(lamp or 0)) < DIRECTION_MA)
        self.no_amps = self.no_amps + 1 if none else 0
        if self.no_amps >= 2 * STEADY:
            return failed(found.LAMPS_OPEN, "Volts and no current: the lamps' plug, a lead of"
                          " theirs or the lamps' relay is open")
        return None

    def _water(self, live):
        up, down = reads(live, "flow_up_uL_s"), reads(live, "flow_down_uL_s")
        if self.scene.rig.sensors.flow_down == "fitted":
            self.stray = self.stray + 1 if (up or 0) > FLOWS_UL_S > (down or 0) else 0
            if self.stray >= STEADY:
                return found.METERS_SWAPPED
        turns = (down or 0) > FLOWS_UL_S and (reads(live, "generator_mV") or 0) < VOLTS_MV
        self.no_volts = self.no_volts + 1 if turns else 0
        if self.no_volts >= 6 * STEADY:
            return failed(found.GENERATOR_OPEN, "Water and no volts: the generator's lead or"
                          " winding is open, or the turbine is stuck")
        return None

    def _steady(self, live):
        """Judge a light that has come to rest near its power."""
        mV, lamp = reads(live, "generator_mV"), reads(live, "lamp_mA")
        amps = lamp if lamp is not None else reads(live, "generator_mA")
        if mV is None or amps is None:
            return None
        near = abs(mV * amps / 1000 - self.setpoint_mW) < 0.15 * self.setpoint_mW
        self.steady = self.steady + 1 if near else 0
        if self.steady < 2 * SAMPLES:
            return None
        return self._judged() or passed(
            f"light at {mV * amps / 1e6:.2f} W, {mV / 1000:.1f} V: water, volts and current")

    def _judged(self):
        mV = self.on.mean("generator_mV")
        values = self.scene.values
        expected_mA = 0.0 if mV is None else max(
            0.0, (mV - 1000 * values["lamps.threshold_voltage_V"])
            / values["lamps.resistance_ohm"])
        return judge_lamps(self.on.mean("generator_mA"), self.on.mean("lamp_mA"), expected_mA)

    def ended(self, live):
        """The light is out again, or its time is: what it showed, else why."""
        if wrong := self._judged():
            return wrong
        if acts(live, "80-VLV") or not (self.on.mean("flow_down_uL_s") or 0):
            return found.NO_WATER_DOWN
        if live["state"] == modes.RUNNING:
            return failed("light unsteady", "The light does not come to its power: head, nozzle,"
                          " lamps or turbine differ from rig.toml")
        return failed("light ended", f"The light went out: {_held_by(live)}")


def lamps_off(scene: Scene) -> Result:
    """Take the lamps away: 59-GEN is told, the valve shuts, the clamp holds the voltage."""
    if scene.look()["state"] != modes.RUNNING:
        raise StepSkipped("the light does not run")
    scene.tell("Pull the lamps' plug. The clamp gets warm, not hot: no hand on it.")
    highest = [0]

    def told(live):
        highest[0] = max(highest[0], live["generator_mV"])
        return passed(f"59-GEN acted, the valve shuts; {highest[0] / 1000:.1f} V at most") if acts(
            live, "59-GEN") or live["state"] == modes.CLOSING else None

    result = scene.watch(told, lambda live: failed(
        "no 59-GEN", "Nothing was told of lamps that were pulled: hand valve shut, bench sheet"
        " BS8 anew"))
    scene.tell("Plug the lamps in again.")
    return result
