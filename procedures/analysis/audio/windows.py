"""Cosine-sum windows for spectra, and what is known of each.

The seven-term window is used for every figure: its side lobes lie 180 dB down, so that leakage of the
fundamental never passes for distortion or noise, wherever the tone lies between two bins. The others are here
because their published figures check the arithmetic.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

SEVEN_TERM = "seven-term Blackman-Harris"
LOBE_BINS = 7
"""The main lobe of the seven-term window ends seven bins from its middle."""

COEFFICIENTS: dict[str, tuple[float, ...]] = {
    "rectangular": (1.0,),
    "Hann": (0.5, 0.5),
    "Hamming": (0.54, 0.46),
    "Blackman": (0.42, 0.5, 0.08),
    "four-term Blackman-Harris": (0.35875, 0.48829, 0.14128, 0.01168),
    "Nuttall": (0.3635819, 0.4891775, 0.1365995, 0.0106411),
    "flat-top": (0.21557895, 0.41663158, 0.277263158, 0.083578947, 0.006947368),
    # Albrecht 2001, minimum side-lobe seven-term window - recalled; the tests find its side lobes at -180 dB.
    SEVEN_TERM: (
        0.27105140069342,
        0.43329793923448,
        0.21812299954311,
        0.06592544638803,
        0.01081174209837,
        0.00077658482522,
        0.00001388721735,
    ),
}


@lru_cache(maxsize=16)
def window(name: str, length: int) -> NDArray[np.float64]:
    """A periodic window, shape (length,), read-only.

    Raises:
        KeyError: there is no window of that name.
    """
    angle = 2.0 * np.pi * np.arange(length) / length
    total = np.zeros(length)
    for order, coefficient in enumerate(COEFFICIENTS[name]):
        total += (-1.0) ** order * coefficient * np.cos(order * angle)
    total.flags.writeable = False
    return total
