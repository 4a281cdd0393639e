"""What the window's start screen can begin, on real threads and files."""

from __future__ import annotations

import errno
import shutil
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest
from served_meters import served_meter
from sounding import FakeDevices

from app import begun_for_job
from app.amplifier_shelf import AmplifierShelf, as_toml
from app.bench.live_bench import LiveBench
from app.bench.sound.desk import MUTED, SoundDesk
from app.main import main
from app.records.archive_place import open_archive
from app.records.job_folder import jobs_root, open_job, open_new_job
from app.records.session_folder import find_by_header, open_session
from app.settings import DeclaredInput, RememberedMeter, Settings, load_settings
from app.windows.ports import BenchPort, SessionShelf, Workshop
from app.workshop import LocalWorkshop
from drivers.meter import MeterAccuracy
from drivers.simulated.units import SURPRISE
from procedures.amplifier import Amplifier, AmplifierChannel, OutputStage
from procedures.analysis.remembered import RememberedWarmUp
from procedures.checking import checked
from procedures.events import Note
from procedures.job import Filled, SheetField, UnitName
from procedures.library import shipped_amplifiers
from procedures.replay import setup_of


@pytest.fixture
def workshop(session_root: Path, tmp_path: Path) -> LocalWorkshop:
    return LocalWorkshop(Settings(), tmp_path / "settings.json", session_root)


def _soon(holds: Callable[[], bool], bench: LiveBench) -> None:
    give_up = time.monotonic() + 20.0
    while not holds():
        assert time.monotonic() < give_up, bench.picture()
        time.sleep(0.02)


def test_it_is_what_the_window_asks_for(workshop: LocalWorkshop) -> None:
    """The types agree; a type checker proves the rest."""
    asked: Workshop = workshop
    shelf: SessionShelf = workshop.shelf

    assert asked.procedures()
    assert asked.simulated_units()[0].key == "healthy"
    assert asked.amplifiers()
    assert shelf.sessions() == ()


def test_a_typed_value_is_on_the_screen_after_one_action(workshop: LocalWorkshop) -> None:
    """Watch by typing: no meter, no question, the value is there and in the record."""
    bench = workshop.watch_typed(0.0134)
    try:
        _soon(lambda: bool(bench.picture().traces), bench)
        assert bench.picture().traces[0].values.tolist() == [0.0134]
    finally:
        bench.leave()
    (line,) = workshop.shelf.sessions()
    review: BenchPort = workshop.shelf.open(line.key)
    assert review.picture().traces[0].values.tolist() == [0.0134]


def test_a_bench_is_heard_while_it_is_there(workshop: LocalWorkshop) -> None:
    """The output is opened beside the work and closed with it; muting is on the screen and is kept."""
    devices = FakeDevices()
    workshop.sound = SoundDesk(workshop.settings.sound, devices=devices, keep=workshop.keep_sound)
    for count in (1, 2):
        bench = workshop.watch_typed(0.0134)
        _soon(lambda count=count: len(devices.opened) == count, bench)  # type: ignore[misc]
        assert bench.picture().sound == ""
        bench.leave()
        assert devices.now.closed

    workshop.sound.choose(workshop.sound.choice.model_copy(update={"muted": True}))
    bench = workshop.watch_typed(0.0134)
    assert bench.picture().sound == MUTED
    bench.leave()
    assert len(devices.opened) == 2
    assert load_settings(workshop._settings_file.path)[0].sound.muted


def test_a_wrong_address_is_refused_in_one_sentence(workshop: LocalWorkshop, session_root: Path) -> None:
    """No session is begun, nothing is remembered."""
    with pytest.raises(ValueError, match="did you mean"):
        workshop.watch_address("192.168.1.20:5025")

    assert list(session_root.iterdir()) == []
    assert workshop.meters() == ()


def test_a_meter_that_was_watched_is_remembered(workshop: LocalWorkshop, tmp_path: Path) -> None:
    """The next time it is one of the cards; a port where nobody answers is a state in words."""
    address = "TCPIP::127.0.0.1::1::SOCKET"
    workshop.declare_input(address, True)
    bench = workshop.watch_address(address)
    try:
        _soon(lambda: any(m.detail and "waiting" in m.state.value for m in bench.picture().meters), bench)
    finally:
        bench.leave()

    settings, trouble = load_settings(tmp_path / "settings.json")
    assert trouble == ""
    assert [meter.address for meter in settings.meters] == [address]
    assert [card.key for card in workshop.meters()] == [address]


def test_the_simulated_bench_runs_over_sockets_and_is_listed_afterwards(workshop: LocalWorkshop) -> None:
    """Readings arrive through HiSLIP; the session can be named, exported and reviewed."""
    bench = workshop.simulated("healthy", "watch", 60.0)
    try:
        _soon(lambda: len(bench.picture().traces) == 2, bench)
        assert bench.picture().practice
        assert bench.practice is not None
        assert bench.practice.hands().speed == 60.0
    finally:
        bench.leave()
    (line,) = workshop.shelf.sessions()
    workshop.shelf.name(line.key, "Amsel A-60", "117")

    (named,) = workshop.shelf.sessions()
    assert (named.title, named.practice) == ("Amsel A-60", True)
    assert workshop.shelf.open(named.key).picture().review


def test_an_export_is_the_readings_of_the_session(workshop: LocalWorkshop, tmp_path: Path) -> None:
    """Written whole, with a sentence that says so."""
    bench = workshop.watch_typed(0.0134)
    bench.leave()
    (line,) = workshop.shelf.sessions()

    sentence = workshop.shelf.export_csv(line.key, tmp_path / "x.csv")

    assert sentence == f"1 reading was written to {tmp_path / 'x.csv'}."
    with pytest.raises(OSError, match=r"x\.csv"):
        workshop.shelf.export_csv(line.key, tmp_path / "no folder" / "x.csv")


def test_a_guided_run_without_meters_takes_typed_values(workshop: LocalWorkshop) -> None:
    """Typed readings are first-class: a whole procedure can be carried out with them."""
    bench = workshop.guided("Kestrow K-40", "warm-up")
    try:
        _soon(lambda: bench.picture().serial > 0, bench)
        assert {setup.channel: setup.typed for setup in bench.picture().setups} == {
            "left bias": True,
            "right bias": True,
        }
    finally:
        bench.leave()


def test_the_serial_number_of_a_guided_run_names_the_unit(workshop: LocalWorkshop) -> None:
    """So that its visits are found again, and the forecast can lean on them."""
    warm_up = RememberedWarmUp("left bias", (1.0, 2.0), (0.01, 0.011), recorded="2026-01-05")
    bench = workshop.guided("Kestrow K-40", "warm-up", " 12  0417 ", (warm_up,))
    try:
        assert bench.picture().unit_name == "Kestrow K-40, serial 12 0417"
        assert bench.picture().view.remembered == ("2026-01-05",)
    finally:
        bench.leave()
    session = open_session(bench.record.folder)
    assert setup_of(session.journal.header).remembered == (warm_up,)


def test_a_run_begun_for_a_job_names_it_and_is_listed_by_it(
    workshop: LocalWorkshop, session_root: Path
) -> None:
    """From the first second on; what nobody had written of the unit stands on the sheet then."""
    number = Filled(datetime(2026, 1, 5, tzinfo=UTC), SheetField.NUMBER, "117")
    job = open_new_job(jobs_root(session_root), [number])
    bench = workshop.guided("Kestrow K-40", "warm-up", "12 0417", job=job.folder.name)
    try:
        begun = open_session(bench.record.folder).journal
        assert begun.naming is not None
        assert (begun.naming.job, str(begun.naming.unit)) == ("117", "Kestrow K-40, serial 12 0417")
        assert open_job(job.folder).sheet.sessions == (begun.header.session,)
    finally:
        bench.leave()
    assert open_job(job.folder).sheet.unit == UnitName("Kestrow", "K-40", "12 0417")
    closed = open_session(bench.record.folder).journal
    assert closed.naming is not None
    assert closed.naming.job == "117"


def test_a_job_that_is_gone_is_told_and_one_that_cannot_be_written_holds_up_nothing(
    workshop: LocalWorkshop, session_root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before anything is opened, or as a note at the bench."""
    with pytest.raises(ValueError, match="there is no job 'gone'"):
        workshop.guided("Kestrow K-40", "warm-up", job="gone")
    job = open_new_job(jobs_root(session_root), [])

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device", str(job.folder))

    monkeypatch.setattr(begun_for_job, "add_facts", full)
    bench = workshop.guided("Kestrow K-40", "warm-up", "1", job=job.id)
    _soon(lambda: bench.picture().serial > 0, bench)
    bench.leave()
    notes = [fact.text for fact in open_session(bench.record.folder).journal.facts if isinstance(fact, Note)]
    assert notes
    assert notes[0].startswith(f"Not filed under job {job.id}: ")
    assert "No space left" in notes[0]


def test_watching_on_the_command_line_is_filed_under_a_job(
    session_root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The session takes the unit of the sheet; a job that is not there is told before anything is opened."""
    lines = [Filled(datetime(2026, 1, 5, tzinfo=UTC), SheetField.NUMBER, "117")]
    lines.append(Filled(datetime(2026, 1, 5, tzinfo=UTC), SheetField.SERIAL, "0042"))
    job = open_new_job(jobs_root(session_root), lines)
    readings = tmp_path / "r.csv"
    readings.write_text("elapsed [s],left bias [mV]\n0,12\n1,12\n")
    watch = ["--folder", str(session_root), "watch", f"file:{readings}", "--minutes", "0", "--sound", "muted"]

    assert main([*watch, "--job", "118"]) == 1
    assert "there is no job '118'" in capsys.readouterr().err
    assert main([*watch, "--job", "117"]) == 0

    (session,) = open_job(job.folder).sheet.sessions
    naming = open_session(find_by_header(session_root, session)).journal.naming
    assert naming is not None
    assert (naming.job, naming.unit) == ("117", UnitName(serial="0042"))


def test_practice_leans_on_practice_of_the_same_unit_alone(
    workshop: LocalWorkshop, session_root: Path
) -> None:
    """A real unit of that serial number does not; which unit was drawn by lot is not told by its past."""
    sample = Path(__file__).resolve().parents[2] / "sample_sessions" / "healthy-trim"
    shutil.copytree(sample, session_root / "2026-01-05-0900-5a3e01")
    archive = open_archive()
    archive.file_missing(session_root)
    archive.close()
    look, real = workshop.papers.practised("healthy"), workshop.papers.recollection("K-40", "K40-01127")
    other = workshop.papers.practised("runaway")
    assert look is not None
    assert real is not None
    assert other is not None
    assert {one.recorded for one in look()} == {"2026-01-05"}
    assert real() == other() == ()
    assert workshop.papers.practised(SURPRISE) is None
    assert workshop.papers.recollection("K-40", " ") is None


def test_a_guided_run_gives_each_meter_its_channel(session_root: Path, tmp_path: Path) -> None:
    """The two meters that were used last read left and right."""
    meters = tuple(
        RememberedMeter(name="meter", address=f"TCPIP::127.0.0.1::{port}::SOCKET") for port in (1, 2)
    )
    inputs = tuple(DeclaredInput(address=meter.address, isolated=True) for meter in meters)
    workshop = LocalWorkshop(Settings(meters=meters, inputs=inputs), tmp_path / "settings.json", session_root)
    bench = workshop.guided("Kestrow K-40", "warm-up")
    try:
        leads = {lead.channel: lead.meter for lead in bench.setup.leads}
        assert leads == {"left bias": "meter 1", "right bias": "meter 2"}
    finally:
        bench.leave()


def test_nothing_is_unfinished_while_it_is_being_recorded(workshop: LocalWorkshop) -> None:
    """A session under way in this or another window is not a crash."""
    bench = workshop.watch_typed(0.0134)
    try:
        assert workshop.unfinished() == ()
    finally:
        bench.leave()


def test_a_session_that_was_cut_off_is_offered_and_can_be_closed(workshop: LocalWorkshop) -> None:
    """After a crash the newest unclosed session is asked about; closing it settles that."""
    bench = workshop.watch_typed(0.0134)
    _soon(lambda: bool(bench.picture().traces), bench)
    folder = bench.record.folder
    copy = folder.with_name("2020-01-01-0000-feed")
    copy.mkdir()
    (copy / "journal.jsonl").write_bytes((folder / "journal.jsonl").read_bytes())
    bench.leave()

    (left,) = workshop.unfinished()
    assert left.resumable
    workshop.close_unfinished(left.key, None)

    assert workshop.unfinished() == ()


def test_a_described_amplifier_is_kept_and_read_back(tmp_path: Path) -> None:
    """The file is one that a person could have written, and passes the same check."""
    shelf = AmplifierShelf(tmp_path / "amplifiers")
    amplifier = Amplifier(
        format=1,
        maker="Amsel",
        model='A "60"',
        output_stage=OutputStage.CFP,
        channel=(AmplifierChannel(name="left bias", target_millivolts=8.6, tolerance_percent=10.0),),
    )

    key = shelf.keep(amplifier)

    assert shelf.all()[key] == amplifier


@pytest.mark.parametrize("amplifier", shipped_amplifiers().values(), ids=lambda one: one.name)
def test_every_amplifier_survives_its_own_file(amplifier: Amplifier) -> None:
    """Written and read back, nothing is lost."""
    again = checked(as_toml(amplifier), "again.toml", Amplifier)

    assert again == amplifier


def test_a_meter_that_answered_is_remembered_with_its_identity(
    workshop: LocalWorkshop, tmp_path: Path
) -> None:
    """Who it said it was is on its card; figures that nobody declared are none, never zero."""
    with served_meter() as address:
        workshop.declare_input(address, True)
        bench = workshop.watch_address(address)
        try:
            _soon(lambda: bool(bench.picture().traces), bench)
        finally:
            bench.leave()

    (meter,) = load_settings(tmp_path / "settings.json")[0].meters
    assert meter.identity.startswith("Fenrow")
    assert meter.accuracy is None
    assert workshop.meters()[0].detail == meter.identity


def test_declared_figures_of_a_meter_reach_the_run(session_root: Path, tmp_path: Path) -> None:
    """The next guided run knows the meter's uncertainty without asking it first."""
    figures = MeterAccuracy(of_reading=5e-5, of_range=3e-5, range_value=0.1, declared_by="its manual")
    meter = RememberedMeter(name="meter", address="TCPIP::127.0.0.1::1::SOCKET", accuracy=figures)
    inputs = (DeclaredInput(address=meter.address, isolated=True),)
    settings = Settings(meters=(meter,), inputs=inputs)
    workshop = LocalWorkshop(settings, tmp_path / "settings.json", session_root)
    bench = workshop.guided("Kestrow K-40", "warm-up")
    try:
        assert [channel.accuracy for channel in bench.setup.channels] == [figures, figures]
    finally:
        bench.leave()


@pytest.mark.parametrize("address", ["typed", "simulated"])
def test_our_own_addresses_open_a_bench_too(workshop: LocalWorkshop, address: str) -> None:
    """A person who types and the simulated bench are addresses like any other."""
    bench = workshop.watch_address(address)
    try:
        assert bench.picture().practice == (address == "simulated")
    finally:
        bench.leave()


def test_an_earthed_meter_is_left_out_of_a_job_and_said_so(session_root: Path, tmp_path: Path) -> None:
    """What remains reads both channels by moving its lead; nobody has to rearrange the list of meters."""
    meters = tuple(
        RememberedMeter(name=name, address=f"TCPIP::127.0.0.1::{port}::SOCKET")
        for port, name in ((1, "logger"), (2, "bench meter"))
    )
    inputs = tuple(DeclaredInput(address=m.address, isolated=m.name == "bench meter") for m in meters)
    settings = Settings(meters=meters, inputs=inputs)
    workshop = LocalWorkshop(settings, tmp_path / "settings.json", session_root)

    assert workshop.job_meters("Kestrow K-40") == (meters[1].address,)
    bench = workshop.guided("Kestrow K-40", "warm-up")
    try:
        assert [lead.meter for lead in bench.setup.leads] == ["bench meter"]
        assert "Left out, because declared earthed: logger." in bench.picture().trouble
    finally:
        bench.leave()
