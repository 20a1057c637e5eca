"""Water and its energy without the meters of it: by the floats, the light and the description."""

from functools import cached_property
from typing import Any

from forebay.balance.instruments import COVERAGE, HALF_WIDTH, L_PER_M3
from forebay.balance.known import AREA
from forebay.balance.measured import Measured
from forebay.balance.moving import Moving
from forebay.balance.pieces import BEHIND, WITHIN, Moved, moved
from forebay.balance.plant import Store
from keeper.physics import of_rig
from keeper.physics.solar_pump import SolarPump

HEAD = "height of the upper tank"
# Brighter than the sun ever is for minutes, through gaps between clouds, on cells as cold as
# ice: what a panel gives at most (common practice, no source).
BRIGHT_W_M2, COLD_DEGC = 1400.0, 0.0


class Modelled:
    """What a rig's description says about its water.  Works nothing out that is not asked for."""

    def __init__(self, rig: Any, store: Store, fitted, moving: Moving | None,
                 lamps_J: Measured | None):
        """Take the rig, the tank, what is fitted, what rows show.

        lamps_J: the energy of the light [J], by the totals; None = unknown.
        """
        self.rig, self.store, self.fitted = rig, store, fitted
        self.moving, self.lamps_J = moving, lamps_J

    @cached_property
    def _values(self):
        return self.rig.plant()

    @cached_property
    def moved(self) -> Moved:
        """What moved between the moments at which the tank is known."""
        moving = self.moving
        assert moving is not None, "rows of a rig with all meters of its water are not modelled"
        share = 1.0
        if self.lamps_J is not None and moving.shown_J > 0:
            # What gaps between the rows hide is as the rest: a litre gives as much there.
            share = self.lamps_J.value / moving.shown_J
        return moved(moving.pieces, moving.light, share, self._most_L(), self.most_up_m3_s,
                     not self._is_stopped_when_full)

    @property
    def _is_stopped_when_full(self):
        """Whether a float of a full tank showed that it works.

        One that never moved may as well be stuck: then the pump goes on till the tank is
        brimful, and beyond.
        """
        return self.moving is not None and bool(self.moving.spoke)

    @cached_property
    def most_up_m3_s(self) -> float:
        """The most that the pump can lift [m3/s]: from a brimful lower tank, in bright sun."""
        values = self._values
        pump = SolarPump(*of_rig.solar_pump(values, *of_rig.water(values)))
        return pump.steady(BRIGHT_W_M2, COLD_DEGC, self._least_lift_m)[0]

    def room_L(self, litres: Measured | None) -> float:
        """Return how much fits at least [L] between a content and the overflow; None = any."""
        if litres is None:
            return 0.0
        room = self._content_L("overflow") - litres
        return max(0.0, room.value - COVERAGE * room.u)

    def float_room_L(self, name: str) -> float:
        """Return how much fits at least [L] between a float's move and the overflow."""
        return self.room_L(self._content_L(name.removesuffix("_float")))

    def most_up_L(self, seconds: float) -> float:
        """Return the most that the pump lifts [L] in some time [s]."""
        return self.most_up_m3_s * L_PER_M3 * seconds

    def most_spill_L(self) -> float:
        """Return the most that can have spilled [L] where no float stopped the pump.

        It is what the pump can have lifted, less what the tank had room for where that is
        known.
        """
        moving = self.moving
        assert moving is not None, "a rig with a level asks that"
        return sum(min(self.most_up_L(float(one.fill_s[WITHIN])), max(
            0.0, self.most_up_L(float(one.fill_s[:BEHIND].sum())) - self.room_L(one.begun)))
            for one in moving.pieces)

    @property
    def _least_lift_m(self):
        values = self._values
        lift_m = values["upper.inlet_height_m"] - (
            values["lower.base_height_m"] + values["lower.height_m"])
        return max(0.0, lift_m - COVERAGE * values["model.head_m"])

    def _most_L(self):
        """Return what the tank holds at most [L]."""
        stops = "full_float" in self.fitted and self._is_stopped_when_full
        return self._content_L("full" if stops else "overflow")

    def _content_L(self, key):
        values = self._values
        level_m = of_rig.tank(values, "upper.").level_m(values[f"upper.{key}_volume_m3"])
        level = Measured(level_m).with_part("place of full_float", values["model.float_place_m"])
        litres = self.store.litres(level)
        return litres.with_part(AREA, litres.value * values["model.tank_frac"])

    # What `figures.HOW` asks for.

    def down_by_floats(self) -> Measured | None:
        """Return what was let down [L] if all of it lies between known contents."""
        return None if self.moved.by_light else self.moved.down

    def up_by_floats(self) -> Measured | None:
        """Return what was pumped up [L] if all of it lies between known contents."""
        return self.moved.up if self.moved.is_up_known else None

    def gained_by_floats(self) -> Measured | None:
        """Return what the tank gained [L] if it is known whenever the pump ran."""
        return self.moved.gained if self.moved.is_up_known else None

    def stored_J(self, litres: Measured) -> Measured:
        """Return the energy above the nozzle [J] of what was pumped up [L]."""
        return self._joules(litres, self.moved.stored)

    def released_J(self, litres: Measured) -> Measured:
        """Return the energy above the nozzle [J] of what was let down [L]."""
        return self._joules(litres, self.moved.released)

    def stored_bounds_J(self) -> tuple[float, float]:
        """Return between what energies [J] lies that of what was pumped up."""
        low, high = (Measured(one) for one in self.moved.up_bounds())
        least, most = self._height(0.0), self._height(self.store.level(self._most_L()).value)
        return (self.store.lifted_J(low, least - COVERAGE * least.u).value,
                self.store.lifted_J(high, most + COVERAGE * most.u).value)

    def least_pump_J(self, litres: Measured) -> tuple[float, None]:
        """Return the least energy [J] with which so much [L] can be pumped up; no most."""
        least_L = max(0.0, litres.value - COVERAGE * litres.u)
        return self.store.lifted_J(Measured(least_L), Measured(self._least_lift_m)).value, None

    def _height(self, level: Measured | float) -> Measured:
        """Return the height [m] of a level [m] above the nozzle."""
        return (level + self.store.base_m + Measured(0.0)).with_part(
            HEAD, self._values["model.head_m"])

    def _joules(self, litres, pieces):
        """Return the energy of a volume [L] that moved in pieces, at the mean of their heights."""
        sums = Measured(0.0)
        weight = 0.0
        for litres_moved, begun, ended in pieces:
            weight += litres_moved
            if begun is not None and ended is not None:
                sums += litres_moved * (self.store.level(begun) + self.store.level(ended)) * 0.5
            else:
                sums += litres_moved * self._anywhere()
        level = sums / weight if weight > 0 else self._anywhere()
        return self.store.lifted_J(litres, self._height(level))

    def _anywhere(self):
        """Return the mean level [m] of water that moved between unknown contents."""
        # As it is run: one that is filled further is a fault, not where it is by chance.
        key = "full" if "full_float" in self.fitted else "overflow"
        half_m = 0.5 * self.store.level(self._content_L(key)).value
        return Measured(half_m).with_part("unknown levels", half_m * HALF_WIDTH)
