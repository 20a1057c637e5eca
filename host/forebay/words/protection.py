"""Words for actions, by number, and for the elements of protection.

Elements are named by their IEEE C37.2 device number with a suffix.
"""

from typing import NamedTuple

from forebay.words import Named
from keeper.channels import C_71H_UP, C_71L_UP, COLUMNS
from keeper.protection import elements


class Element(NamedTuple):
    """An element: its id, what has happened, what to look at first.

    Both say no more than the element itself knows whenever it acts: a contact is open, a
    meter counts, a reading is high.  What other readings say of that time is for SEEN.
    """

    id: str
    plain: str
    look: str

    @property
    def named(self) -> str:
        """What has happened, and the id."""
        return f"{self.plain} ({self.id})"


ACTIONS: dict[int, Named] = {
    elements.RECORD: Named("record", "noted in the journal and shown, nothing else"),
    elements.INHIBIT: Named("inhibit", "no new start while it acts; what runs goes on"),
    elements.STOP: Named("stop", "process stop: starts again by itself when the element lets go"),
    elements.TRIP: Named(
        "trip", "protective stop: bounded retries, then lockout until a person resets"),
    elements.LOCK: Named("lock", "protective stop and lockout at once"),
}

# by its number on the wire and in the journal
ELEMENTS: dict[int, Element] = {elements.number(said.id): said for said in (
    Element("71HH-UP", "Upper tank over-full: the contact of the second float opened",
        "See whether the first float works and the wire is whole, then reset at the tank."),
    Element("3-SW", "Current while the pump is told to be off: its switch may be welded",
        "Open the isolator at the panel, then replace the switch."),
    Element("12-GEN", "Generator overspeed: more voltage inside than the clamp is made for",
        "Shut the hand valve; look at the clamp and at the lamps' lead."),
    Element("5-STP", "Local stop: pressed, or its wire is open",
        "Release it when nobody works on the rig; else look for a cut wire."),
    Element("3-HHU", "Over-full loop at fault: shorted or cut",
        "Look along the cable of the second float for a crushed or open place."),
    Element("3-MOT", "Motor temperature cannot be trusted",
        "Look at the sensor's plug and cable at the motor."),
    Element("3-PAN", "Panel voltage cannot be trusted",
        "Look at the panel's monitor, its sense leads and the bus cable."),
    Element("3-PMP", "Pump current cannot be trusted",
        "Look at the pump's monitor; a reading at its end means too large a shunt."),
    Element("3-GEN", "Generator voltage cannot be trusted",
        "Look at the generator's monitor, its sense leads and the bus cable."),
    Element("3-LMP", "Lamp current cannot be trusted",
        "Look at the lamps' monitor and the bus cable."),
    Element("3-VLV", "Valve position cannot be trusted",
        "Look at the position sensor's cable; see where the valve really stands."),
    Element("71H-UP", "Upper tank full: the contact of its float opened",
        "Nothing to do; if the tank is not full, look for a cut float wire."),
    Element("71H-LVL", "Upper tank full by its level",
        "Check the level reading, and lift the float by hand: it should stop the pump."),
    Element("71L-LO", "Lower tank empty: the contact of its low float opened",
        "Look at the inflow of the lower tank and its float wire."),
    Element("26-MOT", "Motor hot: its temperature passed the limit",
        "Feel for flow through the cooling jacket and clear the strainer."),
    Element("49-MOT", "Motor overloaded by the thermal model, or its heat unknown after a start",
        "Open the isolator, then turn the pump by hand: does it jam? Is the voltage wrong?"),
    Element("14-PMP", "Motor seems to stand: much current at little voltage, and no flow metered",
        "Open the isolator, then look for what blocks the impeller."),
    Element("37-PMP", "Pump draws too little: it runs dry",
        "Is there water at the pump? Fill it and its suction side; look for air in it."),
    Element("80-PMP", "No flow up metered while the pump takes power",
        "Look for a shut cock, a blocked strainer or a meter that stands still."),
    Element("48-PMP", "No water metered in time after the start, or the board stopped before",
        "Fill the pump and its suction side; look at the foot valve."),
    Element("33-VLV", "Valve reads open while the pump runs",
        "See where the valve stands; shut the hand valve if it does not obey."),
    Element("71L-UP", "Upper tank empty: the contact of its low float opened",
        "Nothing to do; if there is water, look for a cut float wire."),
    Element("71L-LVL", "Upper tank empty by its level",
        "Check the level reading, and push the low float down by hand: it should stop the light."),
    Element("71H-LO", "Lower tank full: the contact of its high float opened",
        "Look at the overflow of the lower tank; if it is not full, at the float wire."),
    Element("59-GEN", "Generator over-voltage: more than the lamps leave when they are lit",
        "Look for an open lead or a blown lamp; see that the clamp works."),
    Element("48-VLV", "Valve does not read where it was told to go",
        "Shut the hand valve and open the isolator; then look at the valve's motor, gear, fuse."),
    Element("48-SHT", "The meter counts water down while the valve is told to be shut",
        "Shut the hand valve; look for grit in the valve's seat, then at the meter's lead."),
    Element("80-VLV", "Valve open and no flow down metered",
        "Is the hand valve open? Look at the tank's outlet and the meter; shut the valve before"
        " you touch the nozzle."),
    Element("37-GEN", "The meter counts water down and the generator shows no volts",
        "Does the turbine turn? If so measure along the generator's leads, from the winding on; if"
        " not, shut the hand valve, then look at the nozzle and for what blocks it: hands off the"
        " turbine while water runs."),
    Element("27-SUP", "Board supply low: everything off before it browns out",
        "Charge the buffer battery; look at its charger, fuse and leads."),
    Element("23-WTR", "Pipes near freezing: no new start",
        "Shut the tank's hand valve and order drain-down before the pipes freeze."),
    Element("66-PMP", "Too many starts of the pump in an hour, as far as they are known",
        "Nothing to do on a day of clouds; else look for a chattering float."),
    Element("23-CLD", "Pipes are cold: frost may follow",
        "Think of drain-down: pump, filter and pipes must be empty before frost."),
    Element("71D-UP", "Level falls while nothing runs: it looks like a leak",
        "Walk along tank, penstock and valve and look for water."),
    Element("37-LMP", "Volts and no current at the lamps: a lead may be open",
        "Measure along the lamps' leads from the generator, point by point."),
    Element("3-VOL", "Level and metered volumes disagree: level, meter or a leak",
        "Compare both with a dipstick: a leak, a meter that stands still or a level sensor that"
        " drifts looks alike here."),
    Element("3-STK", "Motor temperature does not move while the pump works",
        "See that the sensor touches the motor; the thermal model goes on watching."),
    Element("3-LVL", "Level cannot be trusted: the floats go on watching",
        "Look at the level sensor's cable and its vent."),
    Element("3-WTR", "Water temperature cannot be trusted: frost would go unseen",
        "Look at the sensor's plug and cable at the coldest pipe."),
    Element("3-SUP", "Supply voltage cannot be trusted",
        "Look at the supply's monitor and the bus cable."),
    Element("3-PNA", "Panel current cannot be trusted",
        "Look at the panel's monitor; a reading at its end means too large a shunt."),
    Element("3-GNA", "Generator current cannot be trusted",
        "Look at the generator's monitor; the voltage goes on being watched."),
    Element("3-SPA", "Supply current cannot be trusted",
        "Look at the supply's monitor and the bus cable."),
    Element("3-BTN", "Button closed for long: it may be stuck",
        "Look at the button and its wire; it is not heard until it lets go."),
    Element("33-SHT", "Valve reads open though it was pressed shut",
        "Does water run down? Then clear its seat; else its position sensor has moved: set it."),
    Element("3-THM", "Motor thermometer: wrong place or swapped",
        "See that each thermometer sits where its serial number says: one on the motor, the"
        " other on the pump's pipe."),
    Element("37-LED", "Pump draws nothing: its lead, its thermostat or a float's relay is open",
        "Is the motor hot? Let it cool: its thermostat opens then. Else open the"
        " isolator and measure along the lead."),
    Element("80-LOW", "Too little flow up for the power: a strainer that clogs, or the meter",
        "Clean the strainer; look for a half-shut cock or a kinked hose, then at the meter."),
    Element("80-SHT", "Meter of the penstock counts at a shut valve: noise or a leak",
        "Does water leave the nozzle? If not, look at the meter's cable, its screen and earth."),
    Element("3-AMP", "Lamp and generator currents disagree: one of the two monitors",
        "Compare both with a meter at the lamps; look at the two shunts and their sense leads."),
    Element("32-GEN", "Generator gives more than it is rated for",
        "Feel whether it is hot; see what the lamps' current really is."),
    Element("26-PMP", "Motor warmer than one that lifts water gets: weak sun, or it lifts nothing",
        "Nothing to do on a dull day. In good sun see whether water comes at the tank, then look"
        " at the strainer and the suction side."),
    Element("14-HOT", "Motor warms faster than one that turns: it may stand",
        "Open the isolator, then look for what blocks the impeller."),
    Element("3-HOT", "Motor warms while the pump is told to be off: its switch may be welded",
        "Open the isolator at the panel, then measure across the switch."),
    Element("48-FUL", "Pumping in good sun for long, and the tank does not fill",
        "See whether water comes at the tank; look at strainer, foot valve and hose, and lift"
        " the full float by hand."),
    Element("48-LOK", "Pumping for long, and neither the full float nor a light shows water",
        "Nothing to do after a dull week; else see whether water comes at the tank in good sun."),
    Element("71L-LMP", "Lamps are dark though the valve is told to be open: the water may be"
        " spent",
        "Nothing to do if the upper tank is empty; else look at the hand valve, the nozzle, the"
        " valve and the lamps' leads."),
    Element("71D-FLT", "Full float fell soon though nothing was let down: it looks like a leak",
        "Walk along tank, penstock and valve and look for water."),
    Element("33-LIT", "Generator gives volts though the valve is told to be shut",
        "Shut the hand valve; look for grit in the valve's seat, then at its motor and gear."),
    Element("71L-PMP", "Pump draws too little: the lower tank may be empty",
        "Nothing to do if it is empty; else fill the pump and its suction side, and look for air"
        " in it."),
)}

# What a contact said when an element acted: its place, words if it was open, if it was closed.
SEEN: dict[str, tuple[int, str, str]] = {
    "71H-LVL": (C_71H_UP - COLUMNS, "The contact of its float is open as well.",
                "The contact of its float is closed still."),
    "71L-LVL": (C_71L_UP - COLUMNS, "The contact of its low float is open as well.",
                "The contact of its low float is closed still."),
}
