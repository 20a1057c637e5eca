"""Words for modes, states and their causes, events, orders and refusals, by number."""

from typing import NamedTuple

from forebay.words import Named
from keeper import events, health, modes
from keeper.operation import orders


class Event(NamedTuple):
    """An event of the journal: its name, the meaning of its two arguments."""

    name: str
    argument: str
    argument2: str


class Order(NamedTuple):
    """An order: its name, the meaning of its two arguments, "-" for none."""

    name: str
    a: str
    b: str


MODES: dict[int, str] = {
    modes.STANDSTILL_MODE: "standstill",
    modes.PUMP_MODE: "pump",
    modes.TURBINE_MODE: "turbine",
    modes.DRAIN_MODE: "drain-down",
    modes.MAINTENANCE_MODE: "maintenance",
}

STATES: dict[int, Named] = {number: Named(modes.STATES[number][0], plain) for number, plain in {
    modes.STANDSTILL: "pump off, valve shut",
    modes.TRIAL: "pump on, water not yet seen",
    modes.PUMPING: "the pump is on, its trial is over",
    modes.RUNNING: "the valve opens as far as the light needs",
    modes.CLOSING: "the valve is told to shut",
    modes.DRAINING: "pump off, valve told to open, for pump, filter and pipes to run empty",
    modes.MAINTENANCE: "pump off, valve told to be shut, nothing starts",
}.items()}

# why a state was left
CAUSES: dict[int, Named] = {
    modes.TRIPPED: Named("trip", "an element tripped"),
    modes.STOPPED: Named("stop", "an element stopped the process"),
    modes.TOO_WEAK: Named("too weak", "too little water came up, as a rule for want of sun"),
    modes.WATER_SEEN: Named("water seen", "the flow up passed the least useful flow"),
    modes.SUN_ENOUGH: Named("sun enough", "the panel's voltage allows a trial start"),
    modes.LIGHT_DUE: Named("light due", "it is dark, or ordered, and light is wanted"),
    modes.LIGHT_OVER: Named("light over", "light is no longer wanted"),
    modes.VALVE_SHUT: Named("valve shut", "the valve reports shut, or has had its time"),
    modes.ORDERED_OFF: Named("ordered off", "an order, or light that is due, ends what runs"),
    modes.DRAIN_ORDERED: Named("drain ordered", "a person orders pump and pipes to be emptied"),
    modes.MAINTENANCE_ORDERED: Named("maintenance ordered", "a person wants everything to stand"),
    modes.ORDER_OVER: Named("order over", "the order ended or ran out"),
    modes.TRIAL_OVER: Named("trial over", "nothing here can see water go up"),
}

EVENTS: dict[int, Event] = {
    events.BOOT: Event("boot", "reason", "settings version"),
    events.STATE: Event("state", "state left", "cause"),
    events.ACTED: Event("element acted", "number of the element", "action"),
    events.LET_GO: Event("element let go", "number of the element", "scans beyond its pickup"),
    events.LOCKOUT: Event("lockout", "number of the element", "trips in a row"),
    events.LOCKOUT_RESET: Event("lockout reset", "number of the element", "0"),
    events.JOURNAL_LOST: Event("journal lost", "stream", "segment removed or not written"),
    events.HELD_OFF: Event("held off", "side", "seconds until the next try"),
    events.ORDER: Event("order", "number of the order", "0 = done, else number of the refusal"),
    events.LIGHT_PLANNED: Event(
        "light planned",
        "0 = the water is too little, 1 = it lasts, 2 = nobody knows it, 3 = it may last",
        "lamp power [mW]"),
    events.LIGHT_LASTS: Event(
        "light lasts", "0 = at the wanted power, 1 = at the least useful", "minutes"),
    events.CLOCK_SET: Event("clock set", "0", "minute of the day, UTC"),
    events.CLOCK_UNKNOWN: Event(
        "clock unknown", "0", "minute of the day that was to switch the light"),
    events.READING_BAD: Event("reading bad", "number of the channel", "reason"),
    events.REPEATED: Event(
        "element repeated", "number of the element",
        "bits 0-15: times more; 16-28: in so many minutes; 29: it acts now"),
    events.RESTARTED: Event(
        "restarted", "side",
        "bits 0-15: starts more, each after a stop; 16-28: in so many minutes; 29: it runs now"),
    events.SUN_UNUSED: Event("sun unused", "0", "highest voltage of the unloaded panel [mV]"),
    events.RUN_CUT: Event("run cut", "side", "trips of 48-PMP so far, with this one"),
    events.VALVE_ZERO: Event("valve zero", "what the valve now reads shut [permille]", "0"),
    events.NOT_FITTED: Event(
        "not fitted", "0", "what the rig lacks from this start on: bit i = channel i, from bit 14"
        " on contact i - 14"),
    events.LIGHT_BETWEEN: Event(
        "light between", "0 = at the planned power, 1 = at the least useful",
        "bits 0-14: minutes that are sure; 15-28: minutes at most"),
}

ORDERS: dict[int, Order] = {
    orders.LIGHT: Order("light", "lamp power [mW]", "for so long [min]"),
    orders.REST: Order("rest", "no light and no pump for so long [min]", "-"),
    orders.BRIGHTNESS: Order("brightness", "step of the button", "for so long [min]"),
    orders.LAST: Order("last", "make the light last for so long [min], 0 = till dawn", "-"),
    orders.PUMP_ALLOWED: Order("pump", "0 = forbid, 1 = allow", "forbid for so long [min]"),
    orders.DRAIN_DOWN: Order(
        "drain-down", "1 = empty pump, filter and pipes, 0 = end", "for so long [min]"),
    orders.MAINTAIN: Order(
        "maintenance", "1 = stand if nothing runs, 2 = stop what runs, 0 = end",
        "1 = leave the program for the laptop's tools"),
    orders.RESET: Order("reset", "1 = seen on site", "-"),
    orders.CLOCK: Order("clock", "days since 1970-01-01", "second of the day, UTC"),
    orders.RELEASE: Order("release", "-", "-"),
    orders.PROVE: Order(
        "prove",
        "0 = end, 1 = blink the board's light, 2 = try the pump now, 100 + the number of an"
        " element = let it act sooner",
        "times to blink, or the limit from which it acts, in the unit of its value"),
}

# How a person gets a board to its prompt: what the loader takes for a press.
WAY_IN = "hold its button for 5 s while power comes, then let go"

# why an order is refused
REFUSALS: dict[int, str] = {
    orders.DONE: "done",
    orders.UNKNOWN: "no such order",
    orders.RANGE: "an argument is out of range",
    orders.LOCKED: "locked out: a person must reset first",
    orders.CAUSE_PRESENT: "the cause is still present",
    orders.ONLY_AT_RIG: "this lockout can only be reset at the rig, by its button",
    orders.RUNS: "something runs: order it to stop, or wait",
    orders.SAFE: "the keeper stands in its safe mode",
    orders.NOT_USEFUL: "below the least useful power: choose fewer hours instead",
    orders.NO_STEP: "there is no such brightness step",
    orders.NOTHING_LOCKED: "nothing is locked out",
    orders.NOT_SAFER: "this rig has no such element with a limit, or it would act later",
}

# why a keeper stands in its safe mode
SAFE_REASONS: dict[int, str] = {
    health.SOUND: "none",
    health.BAD_SETTINGS: "settings or wiring unreadable",
    health.RESTARTING: "three quick restarts",
    health.NO_FILES: "files unusable",
    health.NO_BOARD: "the board's parts cannot be made as its wiring asks",
}
