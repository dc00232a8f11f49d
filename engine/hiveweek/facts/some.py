"""Some hives of a yard on some days, and what concerns the whole yard of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Some:
    """Some hives of each day.

    Attributes
    ----------
    hives : sequence of sequence of int
        Their places in the yard, for each day.
    yard : dict of str to ndarray
        What concerns the whole yard (`YARD`), for each day, without intervals.
    """

    hives: Sequence[Sequence[int]]
    yard: Mapping[str, np.ndarray]
