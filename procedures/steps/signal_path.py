"""Signal path: how the recorder may be connected to the outputs, settled before anything is clipped on.

An output that is not referred to ground takes no earthed input, and no input takes more than it is made for.
"""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from procedures.analysis.figures import figure
from procedures.events import Answer, Choice
from procedures.steps.sitting import Sitting
from procedures.steps.step import Asked, Conduct, Prompt, StepFields

PATH_FINDING = "signal path"
ALLOWED = "allowed"
_PEAK_OF_RMS = 2.0**0.5
_MARGIN = 1.2  # a stage may swing beyond its rating before it clips

REFERENCES = (
    Choice("ground", "One terminal of each output is ground", True),
    Choice("bridged", "Bridged: neither terminal is ground"),
    Choice("floating", "Floating, or not known"),
)
PROBES = (
    Choice("isolating", "Through a differential or isolating probe, or a transformer"),
    Choice("isolated", "The recorder's input is isolated from earth"),
    Choice("earthed", "Straight, and the input is earthed or not known"),
)
DIVIDERS = (
    Choice("fits", "Yes", True),
    Choice("too small", "No, or not known"),
)


class SignalPath(StepFields):
    """Ask what the outputs are referred to, and whether the divider stands the highest peak."""

    OUTCOMES: ClassVar[tuple[str, ...]] = (ALLOWED, "refused")

    kind: Literal["signal path"]
    load_ohm: float = Field(default=8.0, gt=0.0, le=1000.0)

    def open(self, sitting: Sitting) -> Conduct:
        """Ask."""
        return _Settling(self, sitting)


class _Settling(Conduct):
    def __init__(self, line: SignalPath, sitting: Sitting) -> None:
        super().__init__(sitting)
        self._line = line
        self._reference = "bridged" if sitting.amplifier is not None and sitting.amplifier.bridged else ""
        self._probe = ""

    def answer(self, name: str, answer: Answer) -> None:
        if name == "reference":
            self._reference = answer.choice
        elif name == "probe":
            self._probe = answer.choice
            if answer.choice == "earthed":
                self._refuse(
                    f"an earthed input on a {self._reference} output joins it to earth; use a differential "
                    "or isolating probe"
                )
        elif answer.choice == "fits":
            self.sitting.findings[PATH_FINDING] = ALLOWED
            how = f", {self._probe} input" if self._probe else ""
            self.end(ALLOWED, f"output referred to: {self._reference}{how}; peaks of {self._peak_words()}")
        else:
            self._refuse(f"the divider or probe must stand {self._peak_words()}")

    def _refuse(self, reason: str) -> None:
        self.sitting.findings[PATH_FINDING] = "refused"
        self.end("refused", reason)

    def _peak_volts(self) -> float:
        amplifier = self.sitting.amplifier
        if amplifier is None:
            return 100.0  # nothing is known: what a large domestic amplifier can reach
        powers = amplifier.ratings.power if amplifier.ratings is not None else ()
        rated = max((power.volts for power in powers), default=0.0) * _PEAK_OF_RMS * _MARGIN
        rail = amplifier.rail_volts or 0.0
        return max(rated, rail * (2.0 if self._reference == "bridged" else 1.0)) or 100.0

    def _peak_words(self) -> str:
        return figure(self._peak_volts())

    def prompt(self) -> Prompt:
        if not self._reference:
            return _asked("reference", "Say what the amplifier's outputs are referred to.", REFERENCES)
        if self._reference != "ground" and not self._probe:
            return _asked(
                "probe", f"The output is {self._reference}: say how the recorder is connected.", PROBES
            )
        text = (
            f"See that the divider or probe before the recorder stands peaks of {self._peak_words()} and "
            "that its ratio is the one that was entered. Does it?"
        )
        return _asked("divider", text, DIVIDERS)


def _asked(name: str, text: str, choices: tuple[Choice, ...]) -> Prompt:
    caution = "Connect only with the mains switched off; an output can stand at the full supply rail."
    return Prompt(text, caution, Asked(name, text, choices=choices))
