"""`meters` lists and checks: a broken bus, a wrong address and a missing right are sentences."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.bench.real_meters import OwnDialects
from app.main import main
from app.meter_search import Listing, check_address, is_fit, list_meters
from app.meters_command import meter_lines
from app.records.places import dialects_folder, settings_file
from app.settings import DeclaredInput, RememberedMeter, Settings, load_settings
from drivers.clock import ScaledClock
from drivers.discovery import Found, Source, udev_hint
from drivers.errors import AddressError
from drivers.simulated.bench import Mains
from drivers.simulated.laboratory import Laboratory, Manner

NOBODY = "TCPIP::127.0.0.1::1::SOCKET"
OWN_DIALECT = """
name = "own"
title = "one of this workshop's"
[choose]
identity = "Fenrow"
rank = 1
[read]
lines = ["READ?"]
"""


def _broken() -> list[Found]:
    raise RuntimeError("an odd device")


def _listed(settings: Settings, *found: Found) -> Listing:
    sources = [Source("broken", _broken), Source("good", lambda: list(found))]
    return list_meters(settings, sources)


def test_a_broken_bus_is_named_and_hides_nothing() -> None:
    listing = _listed(Settings(), Found(NOBODY, "network instrument", "good"))

    assert [meter.address for meter in listing.meters] == [NOBODY, "typed", "simulated"]
    assert "RuntimeError: an odd device" in listing.troubles[0].sentence


def test_what_is_remembered_is_told_beside_what_is_there() -> None:
    meters = tuple(
        RememberedMeter(name="meter", address=address, identity="Fenrow,6120,FW1,1.0")
        for address in (NOBODY, "GPIB0::22::INSTR")
    )
    inputs = (DeclaredInput(address=NOBODY, isolated=True),)
    listing = _listed(Settings(meters=meters, inputs=inputs), Found(NOBODY, "network instrument", "good"))

    here, away = listing.meters[:2]
    assert here.about == "Fenrow,6120,FW1,1.0; input isolated from earth"
    assert (away.address, away.what) == ("GPIB0::22::INSTR", "used before, not found now")


def test_a_missing_right_is_told_with_the_line_that_gives_it() -> None:
    found = Found("USB::0x1234::0x5678::INSTR", "USB instrument", "USB", udev_hint(0x1234))
    lines = meter_lines(_listed(Settings(), found).meters)

    assert 'SUBSYSTEM=="usb", ATTR{idVendor}=="1234", TAG+="uaccess"' in lines[1]


def test_the_command_lists_and_ends_well(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("drivers.discovery.usual_sources", lambda: (Source("broken", _broken),))

    assert main(["meters"]) == 0

    out = capsys.readouterr().out
    assert "simulated  the simulated bench" in out
    assert "Not searched: broken: could not be searched (RuntimeError: an odd device)." in out


@pytest.mark.parametrize("manner", [Manner.TCP, Manner.HISLIP])
def test_a_healthy_meter_passes_its_check(manner: Manner, capsys: pytest.CaptureFixture[str]) -> None:
    clock = ScaledClock(200.0)
    with Laboratory("healthy", clock, manner=manner, meters=("left",)) as laboratory:
        laboratory.bench.switch_mains(Mains.FULL)
        code = main(["meters", "--check", laboratory.addresses["left"], "--isolated"])

    lines = {line.split("  ")[0]: line for line in capsys.readouterr().out.splitlines()}
    assert code == 0, lines
    for what, word in {
        "identity": "Fenrow,6120",
        "dialect": "full",
        "range": "V",
        "mains hum": "hum cancels",
        "rate": "a second",
        "noise": "standard deviation",
        "errors": "none",
        "earth": "declared isolated",
    }.items():
        assert word in lines[what]
    assert load_settings(settings_file())[0].inputs[0].isolated


def test_a_meter_that_is_not_there_is_one_line_and_exit_code_1(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["meters", "--check", NOBODY]) == 1

    out, err = capsys.readouterr()
    assert err == ""
    (stopped,) = [line for line in out.splitlines() if "BAD" in line]
    assert "refuses the connection" in stopped


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--check", "192.168.1.20:5025"], "did you mean"),
        (["--check", "typed"], "nothing to check"),
        (["--check", "simulated"], "opens its meters itself"),
        (["--check", NOBODY, "--dialect", "ful"], "there is no dialect called 'ful'"),
        (["--check", "file:none.csv"], ""),
        (["--check", "stream:TCPIP::127.0.0.1::1::SOCKET", "--pattern", "("], "cannot be used"),
    ],
)
def test_what_cannot_be_checked_is_one_sentence(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["meters", *arguments]) == 1

    out, err = capsys.readouterr()
    assert words in err
    assert "Traceback" not in out + err
    assert err.count("\n") <= 1


def test_a_description_of_ones_own_is_tried_first_and_a_broken_one_is_named(
    capsys: pytest.CaptureFixture[str],
) -> None:
    folder = dialects_folder()
    folder.mkdir(parents=True)
    (folder / "own.toml").write_text(OWN_DIALECT)
    (folder / "broken.toml").write_text("name = 1")
    clock = ScaledClock(200.0)
    with Laboratory("healthy", clock, manner=Manner.TCP, meters=("left",)) as laboratory:
        main(["meters", "--check", laboratory.addresses["left"]])

    out, err = capsys.readouterr()
    assert "own: one of this workshop's" in out
    assert "broken.toml: at name" in err


def test_a_check_changes_no_setting() -> None:
    clock = ScaledClock(200.0)
    with Laboratory("healthy", clock, manner=Manner.TCP, meters=("left",)) as laboratory:
        address = laboratory.addresses["left"]
        before, after = (check_address(address, Settings(), OwnDialects(())) for _ in range(2))

    kept = ("mains hum", "auto-zero", "10 megohm input")  # its range is the meter's own choice
    told = [[line.found for line in lines if line.what in kept] for lines in (before, after)]
    assert told[0] == told[1]
    assert is_fit(after)


def test_an_address_of_our_own_words_has_no_meter_to_look_at() -> None:
    with pytest.raises(AddressError):
        check_address("simulated", Settings(), OwnDialects(()))


def test_isolated_and_earthed_exclude_each_other(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(["meters", "--check", NOBODY, "--isolated", "--earthed"])

    assert stopped.value.code == 2
    assert "not allowed with" in capsys.readouterr().err
