"""What tests of what is kept between runs share: a maker that counts, the one file of a folder, traits of a climate."""

from __future__ import annotations

import os

import pytest

TRAITS = {"climate.profile": "long_snow_cover", "climate.snow_weeks": 20.0, "climate.koppen": "Dfb"}


class Maker:
    """Counts how often it is asked."""

    def __init__(self, made="something"):
        self.made, self.times = made, 0

    def __call__(self):
        self.times += 1
        return self.made


def only(place):
    """Return the only file kept in a folder."""
    (path,) = place.glob("*.kept")
    return path


posix = pytest.mark.skipif(
    os.name != "posix", reason="owners and modes of files, devices, pipes and forks are of POSIX systems"
)
full_device = pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no full device on this machine")
