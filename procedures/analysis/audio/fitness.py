"""Whether a figure can be had from a capture at all."""

from __future__ import annotations

import numpy as np

from drivers.audio.capture import Capture

SHORTEST = 1024


class CannotMeasure(ValueError):
    """A figure cannot be had from this capture; the message is a sentence for a person."""


def require_fit(capture: Capture) -> None:
    """Refuse what no figure can be trusted of.

    Raises:
        CannotMeasure: too short, not finite, lost samples, or the source itself was overdriven.
    """
    where = f"the capture of {capture.channel}" if capture.channel else "the capture"
    if len(capture.volts) < SHORTEST:
        raise CannotMeasure(
            f"{where} has {len(capture.volts)} samples; record at least {SHORTEST}, better a second or more."
        )
    if not np.isfinite(capture.volts).all():
        raise CannotMeasure(f"{where} holds values that are no numbers; record it again.")
    if capture.dropouts:
        raise CannotMeasure(
            f"samples were lost {capture.dropouts} times in {where}; record it again with a longer buffer."
        )
    if (clipped := capture.clipped_samples) > 1:
        raise CannotMeasure(
            f"{clipped} samples of {where} stand at the input's limit of {capture.full_scale_volts:.3g} V; "
            "lower the input's gain or use a larger divider."
        )
