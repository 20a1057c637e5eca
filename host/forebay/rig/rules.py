"""The keys of a rig's description that say how it is measured, protected and lit."""

from forebay.rig import instruments, surging
from forebay.rig.keys import CHOICE, COUNT, NUMBER, OPTIONAL, Derived, Key, Section

_MOST_A = 8.0             # the largest reading of keeper.channels
_PULSES_M3 = 450e3        # of a meter that is not there
_UNREAD_START_FRAC = 0.8  # of the open-circuit voltage, where nothing rests on it


def _range(name):
    # The largest shunt of keeper.boards.wiring; the largest reading of keeper.channels.
    return Key(f"{name}_range", "current", "82 mA", "8 A",
               instruments.needed_with((f"{name}_meter",), _MOST_A),
               f"range of the {name} monitor")


SENSORS = Section("sensors", "Which instruments are there; their standard uncertainties,"
                  " resolution and noise (one sigma a scan).", (
    *instruments.keys(),
    Key("flow_frac", "ratio", "0.1 %", "30 %", "2 %", "flow meters, of the reading"),
    Key("pulses_per_litre", "pulses by volume", "2 /L", "1000000 /L",
        instruments.needed_with(("flow_up", "flow_down"), _PULSES_M3),
        "pulses of the flow meters"),
    Key("pulses_up", "pulses by volume", "2 /L", "1000000 /L", OPTIONAL,
        "pulses of the meter in the rising main, by a calibration; absent = pulses_per_litre"),
    Key("pulses_down", "pulses by volume", "2 /L", "1000000 /L", OPTIONAL,
        "pulses of the meter in the penstock, likewise"),
    Key("flow_floor", "flow", "0.01 L/min", "100 L/min", "1 L/min", "below it they read low"),
    Key("flow_stall", "flow", "0 L/min", "100 L/min", "0.5 L/min", "below it they stand still"),
    Key("voltage_frac", "ratio", "0.01 %", "20 %", "0.5 %", "voltages, of the reading"),
    *(Key(f"{name}_voltage_factor", NUMBER, "0.8", "1.25", OPTIONAL,
          f"what the {name}'s voltage reading is multiplied by to be right, by a calibration;"
          " absent = 1. The balance goes by it, the board does not")
      for name in ("panel", "generator", "supply")),
    Key("voltage_resolution", "voltage", "1 mV", "1 V", "10 mV", "step of voltages"),
    Key("voltage_noise", "voltage", "0 mV", "1 V", "20 mV", "noise of voltages"),
    Key("current_frac", "ratio", "0.01 %", "20 %", "1 %", "currents, of the reading"),
    Key("current_resolution", "current", "1 mA", "1 A", "1 mA", "step of currents"),
    Key("current_noise_frac", "ratio", "0 %", "10 %", "0.1 %", "noise, of the monitor's range"),
    *(_range(name) for name in ("panel", "pump", "generator", "lamp", "supply")),
    Key("level_uncertainty", "length", "0.1 mm", "0.5 m", "5 mm", "level"),
    Key("level_resolution", "length", "1 mm", "0.1 m", "1 mm", "step of the level"),
    Key("level_noise", "length", "0 mm", "0.1 m", "5 mm", "noise of the level"),
    Key("temperature_uncertainty", "temperature difference", "0.01 K", "10 K", "0.5 K",
        "temperatures"),
    Key("temperature_noise", "temperature difference", "0 K", "5 K", "0.06 K",
        "noise of temperatures"),
    Key("valve_frac", "ratio", "0.01 %", "20 %", "1 %", "valve position, of full travel"),
))

def _start_V(values):
    if instruments.any_fitted(values, instruments.SUN):
        return None
    return _UNREAD_START_FRAC * values["panel.open_circuit_voltage_V"]


RULES = (
    Section("limits", "Delays, waits and limits of protection and modes.", (
        Key("start_voltage", "voltage", "1 V", "59 V",
            Derived("0.8 x panel.open_circuit_voltage where nothing reads it; else it must be"
                    " stated", _start_V),
            "unloaded panel voltage that allows a trial start"),
        Key("start_wait", "time", "1 s", "1 h", "30 s", "how long the panel must hold it"),
        Key("trial", "time", "2 s", "600 s", "20 s", "length of a trial start"),
        Key("useful_flow", "flow", "1 mL/s", "1000 mL/s", "1.5 L/min",
            "flow below which pumping is not worth it"),
        Key("holdoff", "time", "1 s", "1 h", "60 s", "first wait after too weak a start"),
        Key("holdoff_longest", "time", "1 s", "4 h", "1920 s", "longest such wait"),
        Key("pump_least_on", "time", "0 s", "1 h", "60 s", "shortest run; trips pass it by"),
        Key("pump_least_off", "time", "0 s", "1 h", "30 s", "shortest rest of the pump"),
        Key("light_least_off", "time", "0 s", "1 h", "60 s", "shortest rest of the turbine"),
        Key("light_rest_longest", "time", "1 s", "4 h", "1800 s",
            "longest rest of the light; it doubles with each stop until a run lasts as long"),
        Key("trip_retries", COUNT, "0", "10", 3, "trips in a row before lockout"),
        Key("trip_wait", "time", "10 s", "2 h", "300 s", "wait after a trip"),
        Key("trip_window", "time", "60 s", "24 h", "14400 s",
            "time without a trip after which the count starts anew"),
        Key("full_delay", "time", "0 s", "5 s", "0.3 s", "delay of 71H-UP"),
        Key("over_full_delay", "time", "0 s", "5 s", "0.3 s", "delay of 71HH-UP"),
        Key("upper_empty_delay", "time", "0 s", "10 s", "0.5 s", "delay of 71L-UP"),
        Key("lower_empty_delay", "time", "0 s", "10 s", "0.5 s", "delay of 71L-LO"),
        Key("motor_delay", "time", "0 s", "10 s", "1 s", "delay of 26-MOT"),
        Key("generator_delay", "time", "0 s", "1 s", "0.1 s", "delay of 59-GEN"),
        Key("lower_full_delay", "time", "0 s", "10 s", "0.5 s", "delay of 71H-LO"),
        Key("dry_delay", "time", "0.5 s", "60 s", "5 s", "delay of 37-PMP and 37-LED"),
        Key("no_flow_delay", "time", "3 s", "120 s", "10 s",
            "delay of 80-PMP and 80-VLV, and the first part of that of 37-GEN"),
        Key("supply_delay", "time", "0 s", "60 s", "5 s", "delay of 27-SUP"),
        Key("starts_per_hour", COUNT, "1", "120", 20, "starts that an hour allows, 66-PMP"),
        Key("level_tolerance", "length", "2 mm", "0.5 m",
            Derived("3 x sensors.level_uncertainty, 2 mm or more",
                    lambda values: max(0.002, 3 * values["sensors.level_uncertainty_m"])),
            "level beyond a float that has not moved, 71H-LVL and 71L-LVL"),
        Key("fill_look", "time", "1 h", "2000 h", "120 h",
            "pumping without a sign of water after which a person is asked to look, 48-LOK"),
        Key("leak", "length", "2 mm", "1 m",
            Derived("4 x sensors.level_uncertainty, 2 mm or more",
                    lambda values: max(0.002, 4 * values["sensors.level_uncertainty_m"])),
            "fall of the level at standstill, 71D-UP"),
        Key("volume_gap", "length", "2 mm", "1 m",
            Derived("5 x sensors.level_uncertainty, 2 mm or more",
                    lambda values: max(0.002, 5 * values["sensors.level_uncertainty_m"])),
            "level against the metered volumes, 3-VOL"),
        Key("freeze_temperature", "temperature", "-20 degC", "20 degC", "1.5 degC",
            "23-WTR: no new start"),
        Key("cold_temperature", "temperature", "-19 degC", "25 degC", "4 degC",
            "23-CLD: think of drain-down; over freeze_temperature"),
        Key("valve_rate", "rate of travel", "1 %/s", "200 %/s",
            Derived("1 / valve.travel, or what keeps the penstock within its rating",
                    surging.default_rate_per_s),
            "fastest safe travel of the valve: the penstock's surge"),
    )),
    Section("night", "The light.", (
        Key("setpoint", "power", "0 W", "1 kW", meaning="lamp power to hold; 0 = no light"),
        Key("dark_voltage", "voltage", "0.1 V", "59 V", "3 V",
            "panel voltage below which it is dark"),
        Key("dark_wait", "time", "1 s", "2 h", "300 s", "how long it must be dark, or bright"),
        Key("begins", CHOICE, choices=("dusk", "order"), default="dusk",
            meaning="whether light comes by itself when it is dark"),
        Key("until_dawn", CHOICE, choices=("yes", "no"), default="yes",
            meaning="dim so that the light lasts till dawn, where the water allows"),
        Key("useful", "power", "1 mW", "1 kW",
            Derived("the first of lamps.steps", lambda values: min(values["lamps.steps_W"])),
            "lamp power below which light is not worth it"),
        Key("press", "time", "1 min", "24 h", "60 min", "light by day after a press"),
        Key("clock_on", "time", "0 min", "1439 min", OPTIONAL,
            "time of day, UTC, at which light comes by the clock; absent = never"),
        Key("clock_off", "time", "0 min", "1439 min", OPTIONAL, "and at which it goes"),
    )),
    Section("journal", "How often the board writes.", (
        Key("row_running", "time", "1 s", "60 s", "10 s", "length of a row while running"),
        Key("row_standstill", "time", "1 s", "600 s", "60 s", "length of a row at standstill"),
        Key("tail_sync", "time", "1 s", "60 s", "60 s", "longest wait of rows before flash"),
    )),
)
