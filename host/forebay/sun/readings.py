"""Rows of an irradiance file, as read: times, line numbers, judged values.

A value is a float, or None where there is nothing to use: the field is empty
or its flag says so. Whether a None matters depends on the sun, which is not
known here. A value outside its limits and not flagged is an error with its
row: a stand-in such as -999 must not be taken for a measurement.
"""

import gzip
import math
import zlib
from datetime import UTC, datetime

from forebay.sun.errors import SunError, quoted

# A year of minutes; more is another file, or one without an end.
MOST_LETTERS = 64_000_000
GZIP_MARK = b"\x1f\x8b"  # RFC 1952
IRRADIANCE = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "poa_w_m2")

# Thermal offset of a thermopile by night reaches a few W/m2 below zero; common
# practice, no source. The extraterrestrial normal irradiance stays below
# 1415 W/m2; one-minute means above 1400 occur at cloud edges, never 2000.
IRRADIANCE_LOW_W_M2 = -5.0
IRRADIANCE_HIGH_W_M2 = 2000.0

# column: lowest, highest, unit. Air: wider than the extremes recorded on
# Earth (-89.2 and 56.7 degC, WMO archive, from memory). Wind: a hurricane.
LIMITS = {
    **dict.fromkeys(IRRADIANCE, (IRRADIANCE_LOW_W_M2, IRRADIANCE_HIGH_W_M2, "W/m2")),
    "air_degC": (-90.0, 60.0, "degC"),
    "wind_m_s": (0.0, 100.0, "m/s"),
}
# Around the epoch and 32 bits of seconds after it; pandas, below pvlib, holds
# nanoseconds in 64 bits, which end in 1677 and 2262.
FIRST_YEAR = 1970
LAST_YEAR = 2105
NO_VALUE = ("", "nan", "na", "null")  # how a missing value is written, lower case


class Readings:
    """The rows of one file in order of time."""

    def __init__(self, source, names):
        """source: the file as the user named it. names: columns, keys of LIMITS."""
        self.source = str(source)
        self.times_s: list[float] = []  # seconds since 1970 UTC, strictly rising
        self.lines: list[int] = []  # line of the file, from 1
        # one value a row; None: nothing to use
        self.columns: dict[str, list[float | None]] = {name: [] for name in names}
        self.zenith_deg: list[float] = []  # the file's own zenith of the sun, where it has one
        # latitude, longitude of unsure sign, height, name: as a SURFRAD header has them
        self.header_place: tuple[float, float, float, str] | None = None
        # as a weather file's head states it; its height nan where it states none
        self.header_station = None  # a Station
        self.header_is_off = False  # its zone and its longitude cannot both be right
        self.label = "middle"  # where in its interval a row's time stands, see intervals
        self.file_label = ""  # the same by the file's own times, where a reader has moved them
        self.notes: list[str] = []

    def add(self, line, moment, values):
        """Append a row. moment: datetime with zone; values in order of the columns.

        Raises SunError where time does not go forward or the year is out of range.
        """
        if not FIRST_YEAR <= moment.year <= LAST_YEAR:
            raise SunError(f"{self.source}:{line}: time {moment.isoformat()}: the year must be"
                           f" {FIRST_YEAR} to {LAST_YEAR}")
        time_s = moment.timestamp()
        if self.times_s and time_s <= self.times_s[-1]:
            before = datetime.fromtimestamp(self.times_s[-1], UTC)
            raise SunError(
                f"{self.source}:{line}: time {moment.isoformat()} does not come after the row"
                f" before it ({before.isoformat()}); each row must be later than the last:"
                " remove doubled rows and sort the file by time"
            )
        self.times_s.append(time_s)
        self.lines.append(line)
        for column, value in zip(self.columns.values(), values, strict=True):
            column.append(value)

    def judged(self, line, name, text, flagged):
        """The value of one field, or None if it is empty or flagged.

        Raises SunError for what is not a number, or not flagged and outside
        the limits of its column.
        """
        if text.strip().lower() in NO_VALUE:
            return None
        value = self.number(line, name, text)
        if flagged:
            return None
        low, high, unit = LIMITS[name]
        if not low <= value <= high:
            raise SunError(
                f"{self.source}:{line}: {name} is {text.strip()} {unit} and not flagged; allowed"
                f" are {low:g} to {high:g} {unit}: correct it, flag it, or leave the field empty"
            )
        return value

    def number(self, line, name, text):
        """The finite number in a field [-]; SunError naming the row if it is none."""
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            raise SunError(
                f"{self.source}:{line}: {name} is {quoted(text.strip())}, which is not a number;"
                " write a number with a decimal point, or leave the field empty"
            )
        return value


def text_of(path):
    """(text of a file, whether it is UTF-8, else Latin-1); SunError if it cannot be read.

    A file packed by gzip is unpacked.
    """
    try:
        with open(path, "rb") as file:
            content = file.read(MOST_LETTERS + 1)
        if content.startswith(GZIP_MARK):
            with gzip.open(path) as file:
                content = file.read(MOST_LETTERS + 1)
    except (EOFError, zlib.error, gzip.BadGzipFile):
        raise SunError(f"{path}: packed by gzip, and cut or damaged; fetch it again") from None
    except OSError as error:
        raise SunError(
            f"{path}: cannot read the sun file ({error.strerror}); check the name"
        ) from None
    if len(content) > MOST_LETTERS:
        raise SunError(f"{path}: longer than {MOST_LETTERS} letters; cut out the day that is"
                       " meant")
    try:
        return content.decode("utf-8-sig").replace("\r\n", "\n"), True
    except UnicodeDecodeError:
        return content.decode("latin-1").replace("\r\n", "\n"), False


def text_lines(path):
    """Lines of a text file; SunError if it cannot be read or is no text."""
    text, is_utf8 = text_of(path)
    if not is_utf8:
        raise SunError(f"{path}: not a text file (UTF-8); give a file of weather or a CSV")
    return text.splitlines()
