"""In which zone a rig's clock runs, where no shelf and no --zone says it."""

from datetime import datetime, timedelta, timezone, tzinfo

from forebay import lastused
from forebay.rig import Rig, load
from forebay.shelf.local import zone_at
from forebay.sun import SunTrack


def now_at_rig() -> datetime:
    """Return the present time in the zone of the rig used last, else in this computer's.

    Raises InputError if that rig's description cannot be used.
    """
    path = lastused.rig()
    return datetime.now(zone_at(load(path).site)) if path else datetime.now().astimezone()


def zone_of_day(rig: Rig, track: SunTrack) -> tzinfo:
    """Return the zone in which a rehearsed day is told.

    That of the rig's site if it names one and the sun is its own; else the
    standard time of where the sun was measured, so that day stays day.
    """
    station, site = track.station, rig.site
    is_there = (station.latitude_deg, station.longitude_deg) == (
        site.latitude_deg, site.longitude_deg)
    return zone_at(site) if site.zone and is_there else timezone(
        timedelta(hours=track.utc_offset_h))
