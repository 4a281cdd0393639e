"""Every kind of address has its meter, or a sentence."""

from __future__ import annotations

import pytest

from drivers.clock import SteppedClock
from drivers.errors import AddressError
from drivers.meters import meter_for
from drivers.replayed import ReplayedMeter
from drivers.scpi.meter import ScpiMeter
from drivers.stream import StreamMeter


@pytest.mark.parametrize(
    ("address", "kind"),
    [
        ("TCPIP::127.0.0.1::5025::SOCKET", ScpiMeter),
        ("TCPIP::127.0.0.1::hislip0::INSTR", ScpiMeter),
        ("ASRL3::INSTR 9600", ScpiMeter),
        ("stream:TCPIP::127.0.0.1::5025::SOCKET", StreamMeter),
        ("stream:ASRL3::INSTR", StreamMeter),
        ("file:readings.csv", ReplayedMeter),
    ],
)
def test_each_kind_of_address_has_its_meter(address: str, kind: type[object]) -> None:
    meter = meter_for("m", address, SteppedClock())

    assert isinstance(meter, kind)
    assert (meter.name, meter.address) == ("m", address)


@pytest.mark.parametrize("address", ["typed", "simulated"])
def test_what_has_no_meter_says_so(address: str) -> None:
    with pytest.raises(AddressError, match="no link"):
        meter_for("m", address, SteppedClock())


def test_an_unknown_dialect_is_refused_with_those_that_exist() -> None:
    with pytest.raises(AddressError, match="full, pt100, pt1000, type k, generic"):
        meter_for("m", "TCPIP::127.0.0.1::INSTR", SteppedClock(), dialect="ful")
