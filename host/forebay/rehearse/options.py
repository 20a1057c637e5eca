"""What a rehearsal is asked to do: everything is checked before anything is written."""

import difflib
import re
from dataclasses import dataclass, field
from datetime import timedelta, tzinfo
from pathlib import Path

from forebay.errors import InputError
from forebay.rig import DEMOS, Rig, instruments
from forebay.rig import load as load_rig
from forebay.sun import SunTrack
from forebay.sun import load as load_sun
from forebay.twin.faults import FAULTS, NAMES
from forebay.zones import zone_of_day
from keeper import settings as st

DEMO_SUN = Path(__file__).parents[1] / "demo" / "sun-2016-01-01.csv"
DEFAULT_OUT = "rehearsal"
MARK = "rehearsal.json"
DAY_S = 86400
S_PER_MIN = 60
DUSK_MIN = 10   # after the last light on the panel, when somebody presses the button
NEAR = 2   # names that a wrong one is likely to have meant
_HH_MM = r"(?P<hour>\d{1,2}):(?P<minute>\d{2})"
_CLOCK = re.compile(_HH_MM, re.ASCII)
_FAULT = re.compile("(?P<name>[^@]+)@" + _HH_MM, re.ASCII)


class RehearsalError(InputError):
    """A rehearsal that cannot be done as asked: one line that says what to do."""


@dataclass
class Plan:
    """A rehearsal, ready to run.

    faults: (seconds from the start, name), in order of time.  settings: what
    the board is given, the setpoint included.  zone: of its local times.  presses: when
    the button is pressed [s from the start].  demo: name of the packaged rig, "" = a
    description was given.  setpoint_W: lamp power asked for [W], None = the rig's.
    """

    rig: Rig
    sun: SunTrack
    settings: list[int]
    faults: list[tuple[float, str]]
    out: Path
    zone: tzinfo
    presses: list[float] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    demo: str = ""
    setpoint_W: float | None = None


def plan(rig_path=None, *, demo=None, sun=None, date=None, assume_dark=False, station=None,
         faults=(), presses=(), setpoint_W=None, out=None) -> Plan:
    """Return the checked plan of a rehearsal.

    rig_path: a rig.toml, None = a demo's; demo: its name, None = the first one; sun: a
    file, "clear", or None = the demo's measured day; date: local day; station:
    "lat,lon,height" of the measuring station; faults: texts NAME@HH:MM; presses: of the
    button, texts HH:MM;
    setpoint_W: lamp power [W];
    out: a folder that is new or empty.  Raises InputError.
    """
    rig = _rig(rig_path, demo)
    settings = rig.settings()
    if setpoint_W is not None:
        settings[st.index("setpoint_mW")] = _setpoint_mW(setpoint_W, rig)
    when = [_split(text) for text in faults]
    folder = _folder(out)
    track = load_sun(
        str(sun) if sun else str(DEMO_SUN), rig.site, date=date, assume_dark=assume_dark,
        station=station, air_temperature_degC=rig.site.air_temperature_degC,
        tilt_deg=rig.panel.tilt_deg, azimuth_deg=rig.panel.azimuth_deg)
    zone = zone_of_day(rig, track)
    times = sorted((_since(clock_s, track, zone), name) for name, clock_s in when)
    pressed, told = _pressed(presses, rig, track, zone)
    return Plan(rig, track, settings, times, folder, zone, pressed,
                [*rig.notices(), *track.notes, *told],
                "" if rig_path is not None else demo or DEMOS[0], setpoint_W)


def _rig(rig_path, demo):
    if rig_path is not None and demo is not None:
        raise RehearsalError("--demo goes without a RIG.toml: name one of the two")
    if demo is not None and demo not in DEMOS:
        raise RehearsalError(f"--demo {demo}: must be {' or '.join(DEMOS)}")
    return load_rig(rig_path, demo or DEMOS[0])


def _pressed(presses, rig, track, zone):
    """Return ([s from the start] of each press of the button, notes on them)."""
    if presses:
        return sorted(_since(_clock(text, "--press"), track, zone) for text in presses), []
    values = rig.plant()
    if values["night.begins"] == "dusk" or rig.night.clock_on_s is not None or (
            instruments.any_fitted(values, instruments.SUN)):
        return [], []
    lit = [minute for minute, power in enumerate(track.poa_w_m2) if power > 0.0]
    if not lit:
        return [], []
    at_s = float((lit[-1] + DUSK_MIN) * S_PER_MIN)
    when = track.start_utc.astimezone(zone) + timedelta(seconds=at_s)
    return [at_s], [f"Somebody presses the button at {when:%H:%M}, after dusk, which nothing of"
                    " this rig sees (see --press)."]


def _setpoint_mW(watts, rig):
    most = rig.generator.rated_power_W
    if not 0 <= watts <= most:
        raise RehearsalError(f"--setpoint {watts:g}: must be 0 to {most:g} W, the rated power of"
                             " the generator; 0 means no light")
    return round(watts * 1000)


def moment(text: str, plan: Plan) -> float:
    """Return the seconds from a plan's start to a local time HH:MM.  Raises RehearsalError."""
    return _since(_clock(text, "--at"), plan.sun, plan.zone)


def _clock(text, option):
    """Return the seconds of the local day of HH:MM.  Raises RehearsalError."""
    match = _CLOCK.fullmatch(text)
    if match is None:
        raise RehearsalError(f"{option} {text}: must be HH:MM, for example 10:00")
    return _of_day(match, f"{option} {text}")


def _of_day(match, what):
    """Return the seconds of the local day of a match of HH:MM."""
    hour, minute = int(match["hour"]), int(match["minute"])
    if hour > 23 or minute > 59:
        raise RehearsalError(f"{what}: the time must be 00:00 to 23:59")
    return hour * 3600 + minute * 60


def _split(text):
    """Return (name, seconds of the local day) of NAME@HH:MM."""
    match = _FAULT.fullmatch(text)
    if match is None:
        raise RehearsalError(f"--fault {text}: must be NAME@HH:MM, for example"
                             f" {FAULTS[0][0]}@11:30")
    name = match["name"]
    if name not in NAMES:
        near = difflib.get_close_matches(name, map(str, NAMES), NEAR, cutoff=0.4)
        like = f"; did you mean {' or '.join(near)}?" if near else ""
        raise RehearsalError(f"--fault {text}: no fault {name!r}{like} All {len(NAMES)} are in"
                             " host/docs/faults.md and in the help")
    return name, _of_day(match, f"--fault {text}")


def _since(clock_s, track, zone):
    """Return the seconds from the start of the run until a time of day [s] in a zone."""
    start = track.start_utc.astimezone(zone)
    begin = start.hour * 3600.0 + start.minute * 60
    return (clock_s - begin) % DAY_S


def _folder(out):
    """Return a folder that is free to write in; nothing is ever overwritten."""
    if out is None:
        folder, number = Path(DEFAULT_OUT), 1
        while folder.exists():
            number += 1
            folder = Path(f"{DEFAULT_OUT}-{number}")
        return folder
    folder = Path(out)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise RehearsalError(f"--out {out}: must be a new or empty folder; nothing is overwritten")
    return folder
