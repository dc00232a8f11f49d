"""What tests of the second channel share."""

import pytest

from hiveweek.inference import rete

# A skip with its reason, never a pass: the library has no wheel and no working source there, and the answer says so too.
second = pytest.mark.skipif(
    not rete.available(), reason="the second channel's library does not load on Python 3.13 and later"
)
