"""One day and night of sun on the panel, from a measured file or a clear-sky model.

This package owns reading and judging irradiance files, the station's place,
the choice of the local day, and the way from irradiance to the panel's plane
and cell temperature. It knows nothing of the panel's electrics or the plant.

- A value that is assumed, bridged, clipped or averaged is said in the notes.
- A value that cannot be used by day is never replaced in silence.
- pvlib and pandas are loaded only when a track is worked out: they are slow
  to import, and most commands need no sun.
"""

from forebay.sun.errors import SunError
from forebay.sun.load import load
from forebay.sun.station import Station
from forebay.sun.track import SunTrack

__all__ = ["Station", "SunError", "SunTrack", "load"]
