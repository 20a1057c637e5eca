"""What a step or a card looks at: test points and channels, as far as the rig has them."""

from collections.abc import Iterable

from forebay.hardware.build import Build
from forebay.rig.instruments import mask
from keeper import channels as ch

_PLACES = {row[ch.CH_NAME]: place for place, row in enumerate(ch.CHANNELS)}


def there(build: Build, look: Iterable[str]) -> list[str]:
    """Return those of some test points and channels that a rig has."""
    points = {point.id for point in build.points}
    fitted = mask(build.values)
    return [one for one in look if one in points
            or one in _PLACES and fitted >> _PLACES[one] & 1]
