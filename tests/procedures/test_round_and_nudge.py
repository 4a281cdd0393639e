"""Round and nudge: readings while a person goes from point to point, or tries a trimmer."""

from __future__ import annotations

from bench_double import answer, instruction, reasons, short_run

from procedures.events import ChannelReading, Outcome, Supply, SupplyChanged
from procedures.observed import Captured
from procedures.runner import Run

ROUND = 'kind = "round"\nchannel = "left bias"\npoints = ["R1", "R2", "R3", "R4"]'


class _Probe:
    """A probe that is held on a point for a while, and is in the air in between."""

    def __init__(self, step: str, amplifier: str = "Kestrow K-40") -> None:
        self.run: Run = short_run(step, amplifier=amplifier)
        view = self.run.view()
        if view.question is not None and view.question.id.endswith("/caution"):
            answer(self.run, "acknowledged")
        self.at_s = 1.0
        self.captured: list[Captured] = []
        self._feed(SupplyChanged(self.at_s, Supply.MAINS))

    def _feed(self, fact: object) -> None:
        said = self.run.feed(fact)  # type: ignore[arg-type]
        self.captured += [event for event in said if isinstance(event, Captured)]

    def hold(self, volts: float, seconds: float = 6.0, channel: str = "left bias") -> None:
        for _ in range(int(seconds * 4)):
            self.at_s += 0.25
            self._feed(ChannelReading(self.at_s, channel, volts))

    def lift(self) -> None:
        self.hold(0.0, 1.0)

    def key(self) -> None:
        fact = self.run.view().key(self.at_s)
        assert fact is not None
        self._feed(fact)


def test_every_point_is_taken_hands_free_and_the_next_is_named() -> None:
    """The sign does not matter."""
    probe = _Probe(ROUND)
    assert instruction(probe.run).startswith("Hold the probes of left bias on R1 (1 of 4)")
    for volts in (0.0100, -0.0104, 0.0098, 0.0101):
        probe.hold(volts)
        probe.lift()

    assert [(c.point, c.number, c.following) for c in probe.captured] == [
        ("R1", 1, "R2"),
        ("R2", 2, "R3"),
        ("R3", 3, "R4"),
        ("R4", 4, ""),
    ]
    assert [c.value for c in probe.captured] == [0.0100, 0.0104, 0.0098, 0.0101]
    assert reasons(probe.run)["s0"][1] == "9.80 mV to 10.4 mV, median 10.1 mV, inside 30 % of the median"


def test_a_point_is_not_taken_twice_while_the_probes_stay() -> None:
    """Nor when they are only shifted a little."""
    probe = _Probe(ROUND)
    probe.hold(0.0100, 30.0)
    probe.hold(0.0101, 30.0)

    assert len(probe.captured) == 1


def test_equal_neighbours_are_taken_by_the_key() -> None:
    """When the probes went over between two readings."""
    probe = _Probe(ROUND)
    probe.hold(0.0100)
    probe.key()
    probe.hold(0.0100)

    assert [c.point for c in probe.captured] == ["R1", "R2"]


def test_one_pair_near_zero_is_not_conducting() -> None:
    """It is taken only when a person says so, and never leads to more bias."""
    probe = _Probe(ROUND)
    probe.hold(0.0100)
    probe.lift()
    probe.hold(0.00001, 10.0)
    assert len(probe.captured) == 1
    assert instruction(probe.run).startswith("Say whether the probes are on R2 (2 of 4)")
    probe.key()
    for volts in (0.0131, 0.0129):
        probe.hold(volts)
        probe.lift()

    (verdict,) = probe.run.view().verdicts
    assert (verdict.outcome, verdict.subject) == (Outcome.FAILED, "left bias round")
    assert (
        "R2 reads 0.010 mV: this pair is not conducting; do not raise the bias to compensate"
        in verdict.reason
    )


def test_one_far_from_the_others_is_uneven() -> None:
    """7 to 13 mV around 10: service manual of a PA amplifier, steps 4-7 (trade.md M5)."""
    probe = _Probe(ROUND + "\nlimits = { low_millivolts = 7, high_millivolts = 13 }")
    for volts in (0.0100, 0.0131, 0.0070, 0.0128):
        probe.hold(volts)
        probe.lift()

    assert reasons(probe.run)["s0"][1].endswith("R2 reads 13.1 mV, outside 7.00 mV to 13.0 mV")


def test_a_point_may_be_passed_over() -> None:
    """Missing is not zero."""
    probe = _Probe(ROUND)
    for _ in range(3):
        answer(probe.run, "pass over", at_s=probe.at_s)
    probe.hold(0.0100)

    assert probe.run.view().verdicts[0].outcome is Outcome.NOT_MEASURED


def test_the_pairs_of_the_amplifier_are_the_points_and_one_pair_is_no_round() -> None:
    """Four pairs; or nothing to go round."""
    probe = _Probe('kind = "round"\nchannel = "left bias"', "Brinefold PA-600")
    assert "on pair 1 (1 of 4)" in instruction(probe.run)
    alone = short_run('kind = "round"\nchannel = "left bias"')
    assert reasons(alone)["s0"][1] == "there is one output pair, so there is nothing to go round"


# --- nudge ------------------------------------------------------------------------------------------------


class _Knobs(_Probe):
    """Both readings at once."""

    def both(self, left: float, right: float, seconds: float = 8.0) -> None:
        for _ in range(int(seconds * 4)):
            self.at_s += 0.25
            self._feed(ChannelReading(self.at_s, "left bias", left))
            self._feed(ChannelReading(self.at_s, "right bias", right))


NUDGE = 'kind = "nudge"\nchannels = ["left bias"]'


def _nudged(left: float, right: float) -> tuple[str, str]:
    bench = _Knobs(NUDGE.replace('["left bias"]', '["left bias", "right bias"]'))
    bench.both(0.010, 0.012)
    assert instruction(bench.run) == "Turn the left trimmer by a hair, and stop as soon as a reading moves."
    bench.both(left, right)
    if (left, right) == (0.010, 0.012):
        answer(bench.run, "none", at_s=bench.at_s)
    else:
        assert instruction(bench.run).startswith("Turn the left trimmer back: ")
    bench.both(0.010, 0.012)
    first = bench.run.view().verdicts[0]
    return first.outcome.value, first.reason


def test_a_trimmer_moves_its_own_reading() -> None:
    assert _nudged(0.011, 0.012) == (
        "passed",
        "left trimmer: it moves its own reading (left bias by 1.0 mV)",
    )


def test_a_trimmer_that_moves_the_other_reading_is_swapped() -> None:
    outcome, reason = _nudged(0.010, 0.013)
    assert outcome == "failed"
    assert reason.endswith("(right bias by 1.0 mV): are test points or leads swapped?")


def test_a_trimmer_that_moves_both_is_told() -> None:
    assert "it moves more than one reading" in _nudged(0.011, 0.013)[1]


def test_a_trimmer_that_moves_nothing_is_told() -> None:
    assert "no reading moves: wrong test points" in _nudged(0.010, 0.012)[1]


def test_a_creeping_reading_is_no_nudge() -> None:
    """Two per cent of warming up."""
    bench = _Knobs(NUDGE)
    bench.both(0.010, 0.012)
    bench.both(0.0102, 0.012, 20.0)

    assert instruction(bench.run).startswith("Turn the left trimmer by a hair")
