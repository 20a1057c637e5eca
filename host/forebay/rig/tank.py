"""A tank of the rig: its shape in `keeper.physics`, from its section of the description."""

from collections.abc import Mapping

from keeper.physics import tanks

RECTANGULAR, CYLINDER, TABLE = "rectangular", "upright cylinder", "table"


def tank_of(values: Mapping, section: str):
    """Return the shape in `keeper.physics.tanks` of a tank's section.

    values: by "section.key_unit".  Raises ValueError if a table of levels does
    not rise, KeyError if a value is missing.
    """
    shape = values[f"{section}.shape"]
    if shape == TABLE:
        return tanks.LevelTable(values[f"{section}.levels_m"], values[f"{section}.volumes_m3"])
    height_m = values[f"{section}.height_m"]
    if shape == CYLINDER:
        return tanks.UprightCylinder(values[f"{section}.diameter_m"], height_m)
    return tanks.Rectangular(values[f"{section}.length_m"], values[f"{section}.width_m"], height_m)
