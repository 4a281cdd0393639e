"""What the shape of a residual and a line of hum may mean, as hints beside a figure: never a finding."""

from __future__ import annotations

from collections.abc import Mapping

from procedures.analysis.audio.hum import line_may_mean
from procedures.analysis.figures import figure

AT_CROSSINGS = 0.45
"""Share of the residual's power within 20 degrees of the crossings; evenly spread it would be 0.22."""
AT_PEAKS = 0.6


def shape_words(seen: Mapping[str, float]) -> str:
    """How the residual lies over the period; empty where noise hides it or it tells nothing."""
    crossing, peaks = seen.get("crossing_share"), seen.get("peaks_share")
    if crossing is None or peaks is None:
        return ""
    if crossing >= AT_CROSSINGS:
        # In the simulated stage the spikes of an idle current far above the valley lie there as well.
        return "most of the residual is at the zero crossings: crossover, of too little or of much bias"
    if peaks >= AT_PEAKS:
        return "residual at the peaks: may be clipping, or a supply that sags"
    return ""


def hum_words(seen: Mapping[str, float]) -> str:
    """The strongest line of the mains and where such a line often comes from; empty where there is none."""
    lines = {n: seen[f"hum_{n}"] for n in range(1, 11) if f"hum_{n}" in seen}
    if not lines:
        return ""
    strongest = max(lines, key=lambda n: lines[n])
    which = "the mains frequency" if strongest == 1 else f"{strongest} times the mains frequency"
    return f"strongest hum at {which}, {figure(lines[strongest])}: {line_may_mean(strongest)}"
