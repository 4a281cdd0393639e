"""A trimmer under a screwdriver: degrees of the knob, play on turning back, stops at both ends."""

from __future__ import annotations

from drivers.simulated.units import Knob


class Trimmer:
    """The mechanical way from the knob to the wiper. `wiper` is a fraction of the travel, 0 to 1.

    The wiper follows only when the knob has taken up the play: w = clip(w, knob - play/2, knob + play/2).
    """

    def __init__(self, knob: Knob, wiper: float, play_taken: float = 0.0) -> None:
        """Start with the wiper at `wiper`; `play_taken` from -1 to 1 says where in the play the knob is."""
        self._travel_degrees = knob.travel_degrees
        self._half_play = 0.5 * knob.backlash_degrees / knob.travel_degrees
        self._wiper = wiper
        self._knob = wiper + play_taken * self._half_play

    @property
    def wiper(self) -> float:
        """Where the wiper stands."""
        return self._wiper

    @property
    def knob(self) -> float:
        """Where the knob stands: 0 at its lower stop, 1 at its upper."""
        return (self._knob + self._half_play) / (1.0 + 2.0 * self._half_play)

    @property
    def turnable_degrees(self) -> float:
        """From stop to stop of the knob: the wiper's travel and the play."""
        return (1.0 + 2.0 * self._half_play) * self._travel_degrees

    def turn(self, degrees: float) -> float:
        """Turn clockwise (above zero) or back. Return by how much it could be turned before a stop."""
        before = self._knob
        wanted = before + degrees / self._travel_degrees
        self._knob = min(max(wanted, -self._half_play), 1.0 + self._half_play)
        self._wiper = min(max(self._wiper, self._knob - self._half_play), self._knob + self._half_play)
        self._wiper = min(max(self._wiper, 0.0), 1.0)
        return (self._knob - before) * self._travel_degrees
