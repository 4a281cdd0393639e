"""What the shape of a residual and a line of hum may mean, as hints beside a figure: never a finding."""

from __future__ import annotations

from collections.abc import Mapping

from procedures.analysis.audio.hum import line_may_mean
from procedures.analysis.figures import figure

AT_CROSSINGS = 0.45
"""Share of the residual's power within 20 degrees of the crossings; evenly spread it would be 0.22."""
AT_PEAKS = 0.6
TELLS_GAIN = 0.25
"""From here on the sign of the gain at the crossings tells something."""


def shape_words(seen: Mapping[str, float]) -> str:
    """How the residual lies over the period; empty where noise hides it or it tells nothing."""
    crossing, peaks = seen.get("crossing_share"), seen.get("peaks_share")
    if crossing is None or peaks is None:
        return ""
    if crossing >= AT_CROSSINGS:
        return f"most of the residual is at the zero crossings{_gain_words(seen.get('crossing_gain'))}"
    if peaks >= AT_PEAKS:
        return "residual at the peaks: may be clipping, or a supply that sags"
    return ""


def _gain_words(gain: float | None) -> str:
    """What the gain does at the crossings, and which bias that goes with; sessions may hold none."""
    if gain is None or abs(gain) < TELLS_GAIN:
        return ": crossover, of too little or of much bias"
    if gain < 0.0:
        return ", where the gain falls: as with little bias, which may be what the maker chose"
    return ", where the gain rises: as with much bias, both halves conducting there"


def hum_words(seen: Mapping[str, float]) -> str:
    """The strongest line of the mains and where such a line often comes from; empty where there is none."""
    lines = {n: seen[f"hum_{n}"] for n in range(1, 11) if f"hum_{n}" in seen}
    if not lines:
        return ""
    strongest = max(lines, key=lambda n: lines[n])
    which = "the mains frequency" if strongest == 1 else f"{strongest} times the mains frequency"
    return f"strongest hum at {which}, {figure(lines[strongest])}: {line_may_mean(strongest)}"
