"""Chance for compiled searches, the same from the same seed."""

from __future__ import annotations

import numba
import numpy as np
import numpy.typing as npt


@numba.njit(cache=True, nogil=True)
def chance(state: npt.NDArray[np.uint64]) -> int:
    """The next number of a xorshift generator (S. Vigna, "An experimental exploration of
    Marsaglia's xorshift generators, scrambled", ACM TOMS 42(4), 2016), 31 bits."""
    value = state[0]
    value ^= value >> np.uint64(12)
    value ^= value << np.uint64(25)
    value ^= value >> np.uint64(27)
    state[0] = value
    return int(np.int64((value * np.uint64(2685821657736338717)) >> np.uint64(33)))
