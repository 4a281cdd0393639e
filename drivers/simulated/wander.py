"""Random processes of the simulated bench, drawn per step so that a seed decides everything.

Each process owns its generator and draws ahead in blocks: what one process does never depends on whether
another is active, nor on how the steps are grouped into calls.
"""

from __future__ import annotations

import numpy as np

from drivers.simulated.parameters import Floats

_BLOCK_VALUES = 65536


class _Draws:
    """Rows of random numbers, drawn in blocks."""

    def __init__(self, seed: np.random.SeedSequence, shape: tuple[int, ...], normal: bool) -> None:
        self._generator = np.random.Generator(np.random.PCG64(seed))
        self._shape = shape
        self._normal = normal
        self._rows = max(1, _BLOCK_VALUES // max(1, int(np.prod(shape))))
        self._block = np.empty((0, *shape))
        self._next = 0

    def row(self) -> Floats:
        if self._next >= len(self._block):
            size = (self._rows, *self._shape)
            draw = self._generator.standard_normal if self._normal else self._generator.random
            self._block = draw(size)
            self._next = 0
        self._next += 1
        row: Floats = self._block[self._next - 1]
        return row


class OrnsteinUhlenbeck:
    """Stationary wander of unit standard deviation with a correlation time, exact at every step.

    `value` has the shape of `correlation_s`; it starts in its stationary distribution.
    """

    def __init__(self, seed: np.random.SeedSequence, correlation_s: Floats, dt_s: float) -> None:
        self._draws = _Draws(seed, correlation_s.shape, normal=True)
        self._keep = np.exp(-dt_s / correlation_s)
        self._add = np.sqrt(1.0 - self._keep**2)
        self.value: Floats = self._draws.row().copy()

    def step(self) -> Floats:
        """Advance one step and return the new value."""
        self.value = self._keep * self.value + self._add * self._draws.row()
        return self.value


class Telegraph:
    """A contact with two states (0 and 1) and exponentially distributed stays. Starts in state 0."""

    def __init__(self, seed: np.random.SeedSequence, low_s: Floats, high_s: Floats, dt_s: float) -> None:
        self._draws = _Draws(seed, low_s.shape, normal=False)
        self._leave_low = 1.0 - np.exp(-dt_s / low_s)
        self._leave_high = 1.0 - np.exp(-dt_s / high_s)
        self.value: Floats = np.zeros(low_s.shape)

    def step(self) -> Floats:
        """Advance one step and return the new state."""
        leave = np.where(self.value > 0.0, self._leave_high, self._leave_low)
        self.value = np.where(self._draws.row() < leave, 1.0 - self.value, self.value)
        return self.value


class White:
    """Independent standard normal values."""

    def __init__(self, seed: np.random.SeedSequence, shape: tuple[int, ...]) -> None:
        self._draws = _Draws(seed, shape, normal=True)
        self.value: Floats = np.zeros(shape)

    def step(self) -> Floats:
        """Advance one step and return the new values."""
        self.value = self._draws.row()
        return self.value
