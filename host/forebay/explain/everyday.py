"""What a rig's energy is compared with: things of daily life, round in one's own units.

Knows the things and what they hold, not how a page says it.
"""

from typing import NamedTuple

from forebay import units
from forebay.showing import METRIC, US
from keeper.physics.water import SPECIFIC_HEAT_J_KG_K

STANDARD_FALL_m_s2 = 9.80665   # CGPM 1901
WATER_kg_m3 = 1e3              # to a few thousandths, at the temperatures of daily life
MILLION = 1e6
# A rechargeable AA cell: 2000 mAh at 1.2 V, by its label.
CELL_J = 2.0 * 1.2 * 3600.0


class Everyday(NamedTuple):
    """Round quantities as they are said, and as `forebay.units` reads them."""

    measure: str         # what water is counted by
    one: str             # of it
    tall: str            # a grown person
    weighs: str
    storey: str
    bucket: str
    bucket_up: str
    warmer: str          # from the tap to boiling
    reservoir: str       # a millionth of it
    reservoir_up: str

    @property
    def tall_m(self) -> float:
        """How tall a person is [m]."""
        return units.parse(self.tall, "length")

    @property
    def measure_J_K(self) -> float:
        """What one measure of water takes to get warmer [J/K]."""
        return _water_kg(self.one) * SPECIFIC_HEAT_J_KG_K

    @property
    def boiled_J(self) -> float:
        """What one measure of water takes until it boils [J]."""
        return self.measure_J_K * units.parse(self.warmer, "temperature difference")

    @property
    def stairs_J(self) -> float:
        """A person, one storey up [J]."""
        return _lifted_J(units.parse(self.weighs, "mass"), self.storey)

    @property
    def bucket_J(self) -> float:
        """A bucket of water that is lifted [J]."""
        return _lifted_J(_water_kg(self.bucket), self.bucket_up)

    @property
    def reservoir_J(self) -> float:
        """A reservoir up in the hills [J]."""
        return MILLION * _lifted_J(_water_kg(self.reservoir), self.reservoir_up)


def _water_kg(volume):
    return WATER_kg_m3 * units.parse(volume, "volume")


def _lifted_J(mass_kg, height):
    return mass_kg * STANDARD_FALL_m_s2 * units.parse(height, "length")


# By system of units; common practice, no source.
EVERYDAY = {
    METRIC.name: Everyday("litre", "1 L", tall="1.7 m", weighs="70 kg", storey="3 m",
                          bucket="10 L", bucket_up="1 m", warmer="80 K", reservoir="1 m3",
                          reservoir_up="100 m"),
    US.name: Everyday("gallon", "1 US gal", tall="5 1/2 ft", weighs="150 lb", storey="10 ft",
                      bucket="5 US gal", bucket_up="3 ft", warmer="140 degF",
                      reservoir="250 US gal", reservoir_up="300 ft"),
}
