"""The 24 h that are shown: values of the file or the model on its minutes."""

from datetime import UTC, datetime

from forebay.sun import minutes as grid
from forebay.sun import plane, position
from forebay.sun.day import local, spans
from forebay.sun.errors import SunError
from forebay.sun.minutes import SECONDS_PER_MINUTE
from forebay.sun.readings import IRRADIANCE
from forebay.sun.track import POINTS, SunTrack

DEFAULT_AIR_DEGC = 15.0  # International Standard Atmosphere (ISO 2533) at sea level
DEFAULT_WIND_M_S = 1.0  # light air: warm cells, so rather too little power; a choice

# In civil twilight (sun below -6 deg) light is far under 1 W/m2. From -3 deg
# down more than this is no twilight but a wrong zone or place.
NIGHT_ZENITH_DEG = 93.0
NIGHT_LIMIT_W_M2 = 20.0


class Window:
    """POINTS minutes from before sunrise; gathers notes while it is filled."""

    def __init__(self, source, station, light, minutes, notes):
        """light: Daylight of the day. minutes: Minutes of the file, None if modelled."""
        self.source = source
        self.station = station
        self.light = light
        self.minutes = minutes
        self.notes = notes
        self.zone_h = station.zone_h
        self.start_s = light.start_s(self.zone_h)
        self.start = self.start_s // SECONDS_PER_MINUTE
        self.sunrise = light.first - self.start  # first index by day
        self.sunset = light.last + 1 - self.start  # index after the last by day
        times_s = range(
            self.start_s, self.start_s + POINTS * SECONDS_PER_MINUTE, SECONDS_PER_MINUTE
        )
        self.times = position.utc_times(times_s)
        self.sun = position.sun(times_s, station)

    def clock(self, index):
        """Local time of an index as HH:MM."""
        return f"{local(self.start_s + index * SECONDS_PER_MINUTE, self.zone_h):%H:%M}"

    def clear(self):
        """{"ghi_w_m2", "dni_w_m2", "dhi_w_m2"} of the clear-sky model, 0 by night."""
        parts = plane.clear_sky(self.sun, self.times, self.station.height_m)
        names = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2")
        return {
            name: [
                float(value) if self.sunrise <= index < self.sunset else 0.0
                for index, value in enumerate(part)
            ]
            for name, part in zip(names, parts, strict=True)
        }

    def measured(self):
        """{column of irradiance: values} of the file, mended and said so; 0 by night."""
        names = [name for name in self.minutes.columns if name in IRRADIANCE]
        daylight = (self.sunrise, self.sunset, POINTS)
        values, found = {}, {}
        for name in names:
            self._refuse_light_by_night(name)
            values[name], found[name] = grid.day_values(self.minutes, name, self.start, daylight)
        grid.refuse_long_gaps(self.minutes, found, self.start, self.clock)
        grid.note_bridges(self.minutes, found, self.start, self.clock, self.notes)
        self._note_assumed_dark()
        return {name: self._clipped(name, grid.bridged(values[name])) for name in names}

    def _refuse_light_by_night(self, name):
        zenith_deg = self.sun["apparent_zenith"].to_numpy()
        for index, value in enumerate(self.minutes.window(name, self.start, POINTS)):
            if value is None or value <= NIGHT_LIMIT_W_M2 or zenith_deg[index] < NIGHT_ZENITH_DEG:
                continue
            line = self.minutes.line_at(self.start + index)
            raise SunError(
                f"{self.source}:{line}: {name} is {value:.0f} W/m2 with the sun"
                f" {zenith_deg[index] - 90:.0f} deg below the horizon at {self.station}; the zone"
                " of the times or the station is wrong: state it with --station"
                " latitude,longitude,height (east positive)"
            )

    def _note_assumed_dark(self):
        missing = spans(self.minutes, self.light, self.zone_h)
        if missing:
            self.notes.append(f"No rows by day from {missing} local: taken as dark.")
        dark_from = self._dark_from()
        if dark_from < POINTS:
            self.notes.append(
                f"The file ends at {self.clock(dark_from - 1)} local: the night that follows is"
                " assumed, dark."
            )

    def _dark_from(self):
        if self.minutes is None:
            return POINTS
        return min(POINTS, self.minutes.last + 1 - self.start)

    def _clipped(self, name, values):
        negative = [value for value in values if value < 0.0]
        if negative:
            self.notes.append(
                f"{name}: {len(negative)} values by day between {min(negative):.1f} and 0 W/m2"
                " taken as 0 (offset of the instrument)."
            )
        return [max(0.0, value) for value in values]

    def poa(self, parts, tilt_deg, azimuth_deg, albedo):
        """Irradiance in the plane of the panel [W/m2], a list of floats >= 0."""
        if "poa_w_m2" in parts:
            self.notes.append("poa_w_m2 is used as it is: tilt and azimuth play no part.")
            return parts["poa_w_m2"]
        import numpy as np

        ghi = np.array(parts["ghi_w_m2"])
        if "dni_w_m2" in parts and "dhi_w_m2" in parts:
            dni, dhi = np.array(parts["dni_w_m2"]), np.array(parts["dhi_w_m2"])
        elif "dni_w_m2" in parts or "dhi_w_m2" in parts:
            dni, dhi = plane.completed(parts, self.sun)
        else:
            dni, dhi = plane.decomposed(ghi, self.sun, self.times)
            self.notes.append("Direct and diffuse sun are estimated from GHI alone (Erbs).")
        self.notes.append(
            f"Plane of the panel: tilt {tilt_deg:g} deg, azimuth {azimuth_deg:g} deg, albedo"
            f" {albedo:g}, {plane.SKY_MODEL} sky."
        )
        values = plane.plane_of_array((ghi, dni, dhi), self.sun, tilt_deg, azimuth_deg, albedo)
        return [float(value) for value in values]

    def air(self, site, stated_degC):
        """Temperature of the air [degC]: as stated, the site's, the file's, or a default."""
        own = self._maybe_column("air_degC")
        for value, whose in ((stated_degC, "as stated"), (site.air_temperature_degC, "the rig's")):
            if value is not None:
                instead = f", not the file's {min(own):.1f} to {max(own):.1f} degC" if own else ""
                self.notes.append(f"Air temperature: {value:g} degC held, {whose}{instead}.")
                return [float(value)] * POINTS
        if own is None:
            self.notes.append(
                f"Air temperature: {DEFAULT_AIR_DEGC:g} degC, held, for none is known."
            )
            return [DEFAULT_AIR_DEGC] * POINTS
        if self._dark_from() < POINTS:
            self.notes.append(
                f"Air temperature: held at {own[-1]:.1f} degC from the last row of the file on."
            )
        return own

    def wind(self):
        """Speed of the wind [m/s]: the file's, or DEFAULT_WIND_M_S."""
        own = self._maybe_column("wind_m_s")
        if own is None:
            self.notes.append(f"Wind: {DEFAULT_WIND_M_S:g} m/s held, for none is known.")
            return [DEFAULT_WIND_M_S] * POINTS
        return own

    def _maybe_column(self, name):
        if self.minutes is None or name not in self.minutes.columns:
            return None
        values = self.minutes.window(name, self.start, POINTS)
        if all(value is None for value in values):
            self.notes.append(f"{name}: the file has no usable value for these 24 h.")
            return None
        last = max(index for index, value in enumerate(values) if value is not None)
        count = sum(value is None for value in values[:last])
        if count:
            self.notes.append(f"{name}: {count} min without a value bridged or held.")
        return grid.bridged(values)

    def track(self, poa, air):
        """The finished SunTrack."""
        import numpy as np

        cells = plane.cell_degC(np.array(poa), np.array(air), np.array(self.wind()))
        start = datetime.fromtimestamp(self.start_s, UTC)
        return SunTrack(
            source=self.source,
            station=self.station,
            day=self.light.day,
            utc_offset_h=self.zone_h,
            start_utc=start,
            sunrise=local(self.light.sunrise_s, self.zone_h),
            sunset=local(self.light.sunset_s, self.zone_h),
            poa_w_m2=poa,
            cell_degC=[float(value) for value in cells],
            air_degC=air,
            dark_from_index=self._dark_from(),
            notes=self.notes,
        )
