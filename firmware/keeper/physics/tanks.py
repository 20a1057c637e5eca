"""Tank shapes: level and volume both ways, centroid.

Every shape has the same face:
  height_m            inside height [m]
  capacity_m3         volume when full [m3]
  volume_m3(level_m), level_m(volume_m3), centroid_m(level_m)
  slab(low_m, high_m) volume [m3] and centroid height [m] of the water between
                      two levels; small slabs are not differences of large volumes
Levels and centroids count from the inside of the floor.  Sizes are checked once,
in the constructor; a level or volume may pass its limit by a millionth (rounding).
"""

import math

from keeper.physics.checks import require, require_rising, require_within
from keeper.physics.table import row_below

_SERIES_BELOW = 0.5  # rad; above it x - sin x keeps its digits as written
_LEAST_STEP_M = 1e-6  # between rows of a table: finer than any gauge, coarser than rounding
_LEAST_STEP_M3 = 1e-9
_NEWTON_STEPS = 12  # from the start used below six are enough


class Rectangular:
    """Box with a level floor.

    V = l w h

    Args:
        length_m: inside length [m], 0.01 to 100
        width_m: inside width [m], 0.01 to 100
        height_m: inside height [m], 0.01 to 20
    Returns:
        a tank shape [-]
    Raises:
        ValueError: a size, level or volume is outside its range
    Source: definition
    Example:
        >>> round(Rectangular(1.2, 0.8, 1.0).volume_m3(0.35), 9)
        0.336
    """

    def __init__(self, length_m, width_m, height_m):
        require("length_m", length_m, 0.01, 100, "m")
        require("width_m", width_m, 0.01, 100, "m")
        self._set_prism(length_m * width_m, height_m)

    def _set_prism(self, area_m2, height_m):
        require("height_m", height_m, 0.01, 20, "m")
        self.area_m2 = area_m2
        self.height_m = height_m
        self.capacity_m3 = area_m2 * height_m

    def volume_m3(self, level_m):
        """Volume of the water below a level.

        V = A h

        Args:
            level_m: level above the floor [m], 0 to the tank's height
        Returns:
            volume [m3]
        Raises:
            ValueError: the level is outside the tank
        Source: definition
        Example:
            >>> Rectangular(2.0, 1.0, 1.0).volume_m3(0.5)
            1.0
        """
        if not 0.0 <= level_m <= self.height_m:
            require_within("level_m", level_m, self.height_m, "m")
        return self.area_m2 * level_m

    def level_m(self, volume_m3):
        """Level of a volume of water.

        h = V / A

        Args:
            volume_m3: volume [m3], 0 to the tank's capacity
        Returns:
            level above the floor [m]
        Raises:
            ValueError: the volume is more than the tank holds
        Source: definition
        Example:
            >>> Rectangular(2.0, 1.0, 1.0).level_m(1.0)
            0.5
        """
        if not 0.0 <= volume_m3 <= self.capacity_m3:
            require_within("volume_m3", volume_m3, self.capacity_m3, "m3")
        return volume_m3 / self.area_m2

    def centroid_m(self, level_m):
        """Height of the centre of mass of the water below a level.

        z = integral(A z dz) / V

        Args:
            level_m: level above the floor [m], 0 to the tank's height
        Returns:
            height above the floor [m], 0 when empty
        Raises:
            ValueError: the level is outside the tank
        Source: definition
        Example:
            >>> Rectangular(2.0, 1.0, 1.0).centroid_m(0.5)
            0.25
        """
        require_within("level_m", level_m, self.height_m, "m")
        return self.slab(0.0, level_m)[1]

    def slab(self, low_m, high_m):
        """Volume and centroid of the water between two levels.

        V = integral(A dz),  z = integral(A z dz) / V,  from low to high

        Args:
            low_m: lower level above the floor [m], 0 to the tank's height
            high_m: upper level above the floor [m], the lower level to the tank's height
        Returns:
            pair of volume [m3] and centroid height above the floor [m]
        Raises:
            ValueError: a level is outside the tank, or high_m is below low_m
        Source: definition
        Example:
            >>> Rectangular(2.0, 1.0, 1.0).slab(0.5, 0.75)
            (0.5, 0.625)
        """
        _require_slab(self, low_m, high_m)
        return self.area_m2 * (high_m - low_m), 0.5 * (low_m + high_m)


class UprightCylinder(Rectangular):
    """Upright cylinder with a flat floor: a drum, a round cistern.

    V = pi / 4 d^2 h

    Args:
        diameter_m: inside diameter [m], 0.01 to 100
        height_m: inside height [m], 0.01 to 20
    Returns:
        a tank shape [-]
    Raises:
        ValueError: a size, level or volume is outside its range
    Source: definition
    Example:
        >>> round(UprightCylinder(0.5715, 0.8509).volume_m3(0.4254), 9)
        0.109123889
    """

    def __init__(self, diameter_m, height_m):
        require("diameter_m", diameter_m, 0.01, 100, "m")
        self._set_prism(math.pi / 4 * diameter_m * diameter_m, height_m)


class HorizontalCylinder:
    """Cylinder lying on its side, with flat ends and a level axis.

    V = L R^2 (psi - sin psi cos psi),  sin^2(psi / 2) = h / (2 R)

    Args:
        diameter_m: inside diameter [m], 0.01 to 20
        length_m: inside length [m], 0.01 to 100
    Returns:
        a tank shape [-]
    Raises:
        ValueError: a size, level or volume is outside its range
    Source: circular segment.  psi is half the angle that the water surface
        subtends at the axis; taken from the half-angle sine it keeps its digits
        near empty and full
    Kept for: sizing of a lying tank, which a description gives as a table of levels
    Example:
        >>> round(HorizontalCylinder(1.2, 2.5).volume_m3(0.3), 9)
        0.552766364
    """

    def __init__(self, diameter_m, length_m):
        require("diameter_m", diameter_m, 0.01, 20, "m")
        require("length_m", length_m, 0.01, 100, "m")
        self.height_m = diameter_m
        self.capacity_m3 = math.pi / 4 * diameter_m * diameter_m * length_m
        self._radius_m = 0.5 * diameter_m
        self._length_m = length_m

    def _angle(self, level_m):
        share = min(max(level_m / self.height_m, 0.0), 1.0)
        if share > 0.5:
            return math.pi - 2 * math.asin(math.sqrt(1.0 - share))
        return 2 * math.asin(math.sqrt(share))

    def volume_m3(self, level_m):
        """Volume of the water below a level.

        V = L R^2 (psi - sin psi cos psi)

        Args:
            level_m: level above the lowest point [m], 0 to the diameter
        Returns:
            volume [m3]
        Raises:
            ValueError: the level is outside the tank
        Source: circular segment
        Example:
            >>> round(HorizontalCylinder(1.2, 2.5).volume_m3(0.6), 9)
            1.413716694
        """
        require_within("level_m", level_m, self.height_m, "m")
        return self._length_m * self._radius_m**2 * _segment(self._angle(level_m))

    def level_m(self, volume_m3):
        """Level of a volume of water.

        psi - sin psi cos psi = V / (L R^2), solved by Newton's rule below half
        full and by symmetry above

        Args:
            volume_m3: volume [m3], 0 to the tank's capacity
        Returns:
            level above the lowest point [m]
        Raises:
            ValueError: the volume is more than the tank holds
        Source: circular segment
        Example:
            >>> round(HorizontalCylinder(1.2, 2.5).level_m(1.413716694), 8)
            0.6
        """
        require_within("volume_m3", volume_m3, self.capacity_m3, "m3")
        below = min(max(volume_m3, 0.0), self.capacity_m3)
        above = self.capacity_m3 - below
        scale = self._length_m * self._radius_m**2
        half_sine = math.sin(0.5 * _segment_angle(min(below, above) / scale))
        depth_m = self.height_m * half_sine * half_sine
        return depth_m if below <= above else self.height_m - depth_m

    def centroid_m(self, level_m):
        """Height of the centre of mass of the water below a level.

        z = R - 2/3 R sin^3 psi / (psi - sin psi cos psi)

        Args:
            level_m: level above the lowest point [m], 0 to the diameter
        Returns:
            height above the lowest point [m], 0 when empty
        Raises:
            ValueError: the level is outside the tank
        Source: centroid of a circular segment
        Example:
            >>> round(HorizontalCylinder(1.0, 2.0).centroid_m(0.5), 6)
            0.287793
        """
        require_within("level_m", level_m, self.height_m, "m")
        return self.slab(0.0, level_m)[1]

    def slab(self, low_m, high_m):
        """Volume and centroid of the water between two levels.

        V = L R^2 ((D - sin D) + 2 sin D sin^2 m),
        sin(D / 2) = (high - low) / (2 R sin m),  m = (psi_low + psi_high) / 2

        Args:
            low_m: lower level above the lowest point [m], 0 to the diameter
            high_m: upper level above the lowest point [m], the lower level to the diameter
        Returns:
            pair of volume [m3] and centroid height above the lowest point [m]
        Raises:
            ValueError: a level is outside the tank, or high_m is below low_m
        Source: difference of two circular segments, by the sum formulas, so that
            a thin slab is not the difference of two large volumes
        Example:
            >>> volume, centroid = HorizontalCylinder(1.0, 2.0).slab(0.5, 1.0)
            >>> round(volume, 6), round(centroid, 6)
            (0.785398, 0.712207)
        """
        _require_slab(self, low_m, high_m)
        low, high = self._angle(low_m), self._angle(high_m)
        sine = math.sin(0.5 * (low + high))
        if high_m <= low_m or sine <= 0:
            return 0.0, 0.5 * (low_m + high_m)
        half_sine = min((high_m - low_m) / (self.height_m * sine), 1.0)
        width = 2 * math.asin(half_sine)
        area = _x_minus_sin(width) + 2 * math.sin(width) * sine * sine
        if area <= 0:  # too thin for a float
            return 0.0, 0.5 * (low_m + high_m)
        low_sine, high_sine = math.sin(low), math.sin(high)
        cubes = 2 * math.cos(0.5 * (low + high)) * half_sine
        cubes *= low_sine * low_sine + low_sine * high_sine + high_sine * high_sine
        centroid_m = self._radius_m * (1 - 2 * cubes / (3 * area))
        return (
            self._length_m * self._radius_m**2 * area,
            min(max(centroid_m, low_m), high_m),
        )


def _x_minus_sin(x):
    """Return x - sin x without losing digits at small x (Taylor series)."""
    if x > _SERIES_BELOW:
        return x - math.sin(x)
    square = x * x
    series = 1 - square / 42 * (1 - square / 72 * (1 - square / 110))
    return x * square / 6 * (1 - square / 20 * series)


def _segment(angle):
    """Area of a circular segment over R^2, from half its angle at the centre."""
    return 0.5 * _x_minus_sin(2 * angle)


def _segment_angle(area):
    """Half the angle of the segment of an area, 0 to half the circle."""
    if area <= 0:
        return 0.0
    angle = (1.5 * area) ** (1 / 3)  # the first term of the series, from below
    for _ in range(_NEWTON_STEPS):
        sine = math.sin(angle)
        step = (_segment(angle) - area) / (2 * sine * sine)
        if angle - step == angle:
            break
        angle -= step
    return angle


class LevelTable:
    """Tank of any shape, by measured pairs of level and volume.

    V = V0 + (V1 - V0) (h - h0) / (h1 - h0) between two rows

    Args:
        levels_m: levels that rise by 1e-6 or more, from 0 to the inside height of at most 20 [m]
        volumes_m3: volumes that rise by 1e-9 or more, from 0 to the capacity of at most 1e6 [m3]
    Returns:
        a tank shape [-]
    Raises:
        ValueError: a column does not rise or start at 0, or ends too high; a level
            or volume is outside the table
    Source: definition; between rows the surface is constant
    Example:
        >>> LevelTable((0, 0.5, 1.0), (0, 0.1, 0.3)).volume_m3(0.75)
        0.2
    """

    def __init__(self, levels_m, volumes_m3):
        require_rising("levels_m", levels_m, "m")
        require_rising("volumes_m3", volumes_m3, "m3")
        require("levels_m[0]", levels_m[0], 0, 0, "m")
        require("volumes_m3[0]", volumes_m3[0], 0, 0, "m3")
        if len(levels_m) != len(volumes_m3):
            raise ValueError("levels_m and volumes_m3: must have the same number of rows")
        for row in range(1, len(levels_m)):
            _require_step("levels_m", levels_m, row, _LEAST_STEP_M, 20, "m")
            _require_step("volumes_m3", volumes_m3, row, _LEAST_STEP_M3, 1e6, "m3")
        self._levels_m = tuple(levels_m)
        self._volumes_m3 = tuple(volumes_m3)
        self.height_m = levels_m[-1]
        self.capacity_m3 = volumes_m3[-1]

    def _row_surface_m2(self, row):
        rise_m3 = self._volumes_m3[row + 1] - self._volumes_m3[row]
        return rise_m3 / (self._levels_m[row + 1] - self._levels_m[row])

    def volume_m3(self, level_m):
        """Volume of the water below a level.

        V = V0 + A (h - h0)

        Args:
            level_m: level above the floor [m], 0 to the tank's height
        Returns:
            volume [m3]
        Raises:
            ValueError: the level is outside the table
        Source: linear interpolation
        Example:
            >>> LevelTable((0, 0.5, 1.0), (0, 0.1, 0.3)).volume_m3(0.25)
            0.05
        """
        require_within("level_m", level_m, self.height_m, "m")
        row = row_below(level_m, self._levels_m)
        risen_m = level_m - self._levels_m[row]
        return self._volumes_m3[row] + self._row_surface_m2(row) * risen_m

    def level_m(self, volume_m3):
        """Level of a volume of water.

        h = h0 + (V - V0) / A

        Args:
            volume_m3: volume [m3], 0 to the tank's capacity
        Returns:
            level above the floor [m]
        Raises:
            ValueError: the volume is outside the table
        Source: linear interpolation
        Example:
            >>> LevelTable((0, 0.5, 1.0), (0, 0.1, 0.3)).level_m(0.05)
            0.25
        """
        require_within("volume_m3", volume_m3, self.capacity_m3, "m3")
        row = row_below(volume_m3, self._volumes_m3)
        filled_m3 = volume_m3 - self._volumes_m3[row]
        return self._levels_m[row] + filled_m3 / self._row_surface_m2(row)

    def centroid_m(self, level_m):
        """Height of the centre of mass of the water below a level.

        z = sum(V_i z_i) / V over the stretches of the table

        Args:
            level_m: level above the floor [m], 0 to the tank's height
        Returns:
            height above the floor [m], 0 when empty
        Raises:
            ValueError: the level is outside the table
        Source: definition
        Example:
            >>> round(LevelTable((0, 0.5, 1.0), (0, 0.1, 0.3)).centroid_m(1.0), 6)
            0.583333
        """
        require_within("level_m", level_m, self.height_m, "m")
        return self.slab(0.0, level_m)[1]

    def slab(self, low_m, high_m):
        """Volume and centroid of the water between two levels.

        V = sum(A_i dz_i),  z = sum(A_i dz_i z_i) / V over the stretches

        Args:
            low_m: lower level above the floor [m], 0 to the tank's height
            high_m: upper level above the floor [m], the lower level to the tank's height
        Returns:
            pair of volume [m3] and centroid height above the floor [m]
        Raises:
            ValueError: a level is outside the table, or high_m is below low_m
        Source: definition
        Example:
            >>> LevelTable((0, 0.5, 1.0), (0, 0.1, 0.3)).slab(0.25, 0.5)[0]
            0.05
        """
        _require_slab(self, low_m, high_m)
        volume_m3 = moment_m4 = 0.0
        for row in range(len(self._levels_m) - 1):
            bottom_m = max(low_m, self._levels_m[row])
            top_m = min(high_m, self._levels_m[row + 1])
            if top_m > bottom_m:
                piece_m3 = self._row_surface_m2(row) * (top_m - bottom_m)
                volume_m3 += piece_m3
                moment_m4 += piece_m3 * 0.5 * (bottom_m + top_m)
        if volume_m3 <= 0:
            return 0.0, 0.5 * (low_m + high_m)
        return volume_m3, moment_m4 / volume_m3


def _require_step(name, column, row, least_step, most, unit):
    require(name + "[" + str(row) + "]", column[row], column[row - 1] + least_step, most, unit)


def _require_slab(tank, low_m, high_m):
    require_within("low_m", low_m, tank.height_m, "m")
    require_within("high_m", high_m, tank.height_m, "m")
    if high_m < low_m:
        require("high_m", high_m, low_m, tank.height_m, "m")
