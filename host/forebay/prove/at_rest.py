"""Steps with everything at standstill: readings, floats, button, stop, thermometers.

Each takes the scene and returns its result.  The rig is in maintenance meanwhile: nothing
starts while somebody has a hand in a tank.
"""

from collections.abc import Callable

from forebay.asking import Quantity
from forebay.prove import found
from forebay.prove.found import Result, failed, passed, tag
from forebay.prove.scene import STEADY, Scene, acts, is_closed, reads
from forebay.rig.instruments import fitted
from forebay.si import reason_of
from keeper.channels import CH_NAME, CHANNELS, CONTACTS, FLOW_DOWN, FLOW_UP, READ
from keeper.operation import orders, proving
from keeper.protection.elements import number

# A hand warms a sensor by more than this, and a room does not in a minute; a guess.
WARMED_MDEGC, LEFT_ALONE_MDEGC = 2000, 1000
# A sensor that was in a hand gets warmer for a while; it is at its end when it rises by less
# than this in this time; a guess.
STILL_MDEGC, STILL_S = 200, 10.0
ACTS_S = 15.0            # an element has had its delay by then, the sensor's second too
READY_S = 10.0
BACK_S = 20.0            # for a hand to let go of what was not the right one
CONVERTED = "5 V"        # the net behind the converter
WET = ("contact_71l_up", "contact_71l_lo")  # closed while the float swims
ELEMENT_OF = {"contact_71h_up": "71H-UP", "contact_71hh_up": "71HH-UP",
              "contact_71l_up": "71L-UP", "contact_71l_lo": "71L-LO",
              "contact_71h_lo": "71H-LO", "contact_stop": "5-STP"}


def readings(scene: Scene) -> Result:
    """See that every instrument of the rig answers, and that the valve reads shut."""
    names = _read_names(scene)
    live = scene.until(lambda live: all(reads(live, name) is not None for name in names),
                       READY_S) or scene.look()
    bad = [name for name in names if reads(live, name) is None]
    if bad:
        first = found.missing(bad[0], reason_of(live[bad[0]]))
        more = ", ".join(tag(name) for name in bad[1:])
        return first._replace(said=first.said + (f" Nor can be read: {more}." if more else ""))
    return passed(f"all {len(names)} readings are there")


def _read_names(scene):
    there = fitted(scene.rig.sensors)
    from forebay.rig.instruments import BY_NAME

    places = {place for name in there for place in BY_NAME[name].reads if place < len(CHANNELS)}
    assert READ > len(CHANNELS)
    return [str(CHANNELS[place][CH_NAME]) for place in sorted(places)
            if place not in (FLOW_UP, FLOW_DOWN)]


def contact(name: str) -> Callable[[Scene], Result]:
    """Return the step that moves one contact to its other side and back."""
    def step(scene: Scene) -> Result:
        before = scene.look()
        moved = _touched(scene, name, before)
        if found.is_swapped(moved):
            # A hand on the wrong one looks the same: only what happens twice is the wiring.
            scene.tell(f"{moved.said.split(':')[0]}. Once more, to be sure that it was the right"
                       " one that was touched.")
            moved = _touched(scene, name, scene.look())
        if moved.outcome != found.PASSED:
            return moved
        scene.tell(f"{tag(name)} changed; now back as it was")
        return scene.watch(
            lambda live: moved if is_closed(live, name) == is_closed(before, name) else None,
            lambda live: failed(f"stays {tag(name)}", f"{tag(name)} did not come back: the float"
                                " hangs on something, or its contact sticks"))
    return step


def _touched(scene, name, before):
    """Have a contact moved; return what changed, all of it back as it was if not that alone."""
    scene.tell(_what_to_do(name, is_closed(before, name)))
    moved = scene.watch(_Moves(name, before), lambda live: _not_moved(name, live))
    if moved.outcome != found.PASSED:
        scene.tell("Now back as it was.")
        scene.until(lambda live: live["contacts"] == before["contacts"], BACK_S)
    return moved


class _Moves:
    """Judges whether a contact left its side, and whether another did instead."""

    def __init__(self, name, before):
        self.name, self.before = name, before
        self.looks = 0

    def __call__(self, live):
        changed = [one for one in CONTACTS
                   if is_closed(live, one) != is_closed(self.before, one)]
        self.looks = self.looks + 1 if changed else 0
        if self.looks < STEADY:
            return None
        if changed == [self.name]:
            element = ELEMENT_OF.get(self.name)
            if element and not is_closed(live, self.name) and not acts(live, element):
                return None if self.looks < 10 * STEADY else failed(
                    f"no {element}", f"{tag(self.name)} opened and {element} does not act: this"
                    " rig's settings are not those of the board; flash them anew")
            return passed(f"{tag(self.name)} changed, alone")
        if self.name not in changed:
            return found.swapped_contacts(self.name, changed[0])
        return found.together(self.name, [one for one in changed if one != self.name])


def _not_moved(name, live):
    side = "closed" if is_closed(live, name) else "open"
    why = ("the pair is crushed or bridged" if side == "closed"
           else "a core or joint of the pair is open")
    return failed(f"still {tag(name)}", f"{tag(name)} stayed {side}, and nothing else changed:"
                  f" {why}, or the float does not swim freely")


def _what_to_do(name, closed):
    if name == "button":
        return "Press the button HS-1 for two seconds, and let go."
    if name == "contact_stop":
        return "Press the local stop, and leave it pressed until this says so."
    if name in WET:
        how = "make it hang: lift it out, or push it down" if closed else "lift it"
    else:
        how = "lift it by hand" if closed else "lower it by hand"
    return f"Float {tag(name)}: {how}. Hold on to something that bears you, not to the tank."


def over_full_loop(scene: Scene) -> Result:
    """Short the supervised over-full pair at the float, then cut it: both are told by name."""
    scene.tell("Over-full float: bridge its two cores at the float.")
    seen = scene.until(lambda live: acts(live, "3-HHU"), scene.patience_s)
    if seen is None:
        return failed("no 3-HHU", "3-HHU does not act on a bridged pair: the resistors are not at"
                      " the float, or the loop is not supervised")
    scene.tell("3-HHU acts. Take the bridge away.")
    if scene.until(lambda live: not acts(live, "3-HHU"), scene.patience_s) is None:
        return failed("stays 3-HHU", "3-HHU goes on acting: the pair is still bridged or cut")
    return passed("a bridged over-full pair is told by 3-HHU")


# The converter, which no instrument of the board reads

def converter(scene: Scene) -> Result:
    """Have the converter's output read by hand meter, beside the window of its test point."""
    from forebay.finding.search import METER_FRAC, METER_V
    from forebay.finding.sitting import MOST_V
    from forebay.hardware.build import Build

    build = Build.of(scene.rig)
    point = next(one for one in build.points if one.net == CONVERTED)
    part = build.netlist.of_kind("buck")[0]
    low_V, high_V = point.windows["standstill"]
    shown_V = scene.ask(Quantity(
        "converter", f"{point.id}, {point.at}: hand meter on direct volts, red on {part.id} out,"
        " black on TP0. It shows", "voltage", "V", -MOST_V, MOST_V))
    off_V = METER_FRAC * abs(shown_V) + METER_V
    window = f"{low_V:.1f} to {high_V:.1f} V"
    if low_V - off_V <= shown_V <= high_V + off_V:
        return passed(f"the converter gives {shown_V:.2f} V, of {window}")
    return failed("wrong converter", f"The converter gives {shown_V:.2f} V instead of {window}:"
                  " take fuse F1 out, unplug the board and set or change the converter before"
                  " anything else. What hung on too many volts is to be proven anew.")


# Thermometers

def thermometer(name: str) -> Callable[[Scene], Result]:
    """Return the step that finds which of two thermometers is in the hand."""
    other = "water_mdegC" if name == "motor_mdegC" else "motor_mdegC"

    def step(scene: Scene) -> Result:
        _let_go(scene, other)
        before = scene.look()
        if reads(before, name) is None:
            return found.missing(name, reason_of(before[name]))
        lowered = name == "motor_mdegC" and _lower(scene, before[name])
        scene.tell(f"Hold {tag(name)} in the warm hand, nothing else. In a warm place: in a cup"
                   " of warm water, not hot. It need not be hot: its element acts sooner now."
                   if lowered else f"Hold {tag(name)} in the warm hand, nothing else.")
        try:
            warmed = scene.watch(lambda live: _warmed(name, other, before, live),
                                 lambda live: _not_warmed(name, before, live))
            if warmed.outcome == found.PASSED and lowered:
                return scene.watch(
                    lambda live: passed(warmed.said + ", and 26-MOT acts on it")
                    if acts(live, "26-MOT") else None,
                    lambda live: failed("no 26-MOT", "the motor's sensor is warm and 26-MOT does"
                                        " not act at the lowered limit"), ACTS_S)
            return warmed
        finally:
            if lowered:
                scene.order(orders.PROVE, proving.END)
    return step


def _let_go(scene, name):
    """Wait until a thermometer gets no warmer: it may have been in the hand before."""
    seen: list[tuple[float, int]] = []

    def is_still(live):
        now = reads(live, name)
        if now is None:
            return True
        seen.append((scene.clock(), now))
        while seen[-1][0] - seen[1 if len(seen) > 1 else 0][0] >= STILL_S:
            seen.pop(0)
        return seen[-1][0] - seen[0][0] >= STILL_S and now - seen[0][1] < STILL_MDEGC

    if scene.until(is_still, STILL_S + 1) is None:
        scene.tell(f"Let go of {tag(name)}: it is still getting warmer.")
        scene.until(is_still, scene.patience_s)


def _lower(scene, now_mdegC):
    """Let 26-MOT act at a hand's warmth; return whether it does."""
    refused = scene.order(orders.PROVE, proving.ELEMENT + number("26-MOT"),
                          now_mdegC + WARMED_MDEGC)
    return not refused


def _rise(name, before, live):
    now, then = reads(live, name), reads(before, name)
    return None if now is None or then is None else now - then


def _warmed(name, other, before, live):
    rise, other_rise = _rise(name, before, live), _rise(other, before, live)
    if rise is None:
        return found.missing(name, reason_of(live[name]))
    if rise >= WARMED_MDEGC and (other_rise is None or other_rise < LEFT_ALONE_MDEGC):
        return passed(f"{tag(name)} rose by {rise / 1000:.1f} K, alone")
    if other_rise is not None and other_rise >= WARMED_MDEGC and rise < LEFT_ALONE_MDEGC:
        return found.THERMOMETERS_SWAPPED
    return None


def _not_warmed(name, before, live):
    rise = _rise(name, before, live)
    return failed(f"still {tag(name)}", f"{tag(name)} rose by {(rise or 0) / 1000:.1f} K only:"
                  " another sensor was held, this one stands still, or it was warm before")
