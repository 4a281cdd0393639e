"""An answer that comes faster than the meter measures belongs to an older question."""

from __future__ import annotations

from drivers.scpi.pace import Pace


def test_haste_is_noticed_once_the_usual_time_is_known() -> None:
    pace = Pace()
    assert pace.plausible(0.001)
    assert all(pace.plausible(0.4) for _ in range(8))

    assert not pace.plausible(0.001)
    assert pace.plausible(0.39)


def test_hasty_answers_do_not_become_usual() -> None:
    pace = Pace()
    assert all(pace.plausible(0.4) for _ in range(8))

    for _ in range(20):
        assert not pace.plausible(0.001)
        assert not pace.plausible(0.001)
        assert pace.plausible(0.4)


def test_a_meter_that_is_always_faster_than_before_is_believed_in_the_end() -> None:
    pace = Pace()
    assert all(pace.plausible(0.4) for _ in range(8))
    assert [pace.plausible(0.05) for _ in range(4)] == [False, False, False, True]


def test_a_fast_meter_is_always_believed() -> None:
    pace = Pace()
    assert all(pace.plausible(0.002) for _ in range(8))

    assert pace.plausible(0.0001)


def test_a_change_of_speed_starts_anew() -> None:
    pace = Pace()
    assert all(pace.plausible(0.4) for _ in range(8))
    pace.forget()

    assert pace.plausible(0.04)
