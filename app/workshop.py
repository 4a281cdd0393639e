"""What can be begun from the window's start screen; see `app.windows.ports.Workshop`.

Refusals are `ValueError` or `OSError` with one sentence, whatever was refused underneath.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

from app.apart import apart
from app.begun_for_job import file_begun, job_meant
from app.bench.audio.devices import MeasuringDevices, hear_signals
from app.bench.job_memory import in_lead_order, remembering_leads
from app.bench.keep_awake import KeptAwake
from app.bench.live_bench import LiveBench
from app.bench.long_review import LongReview, prepare_columns, recall
from app.bench.meter_memory import declaration, declared, input_question, learned
from app.bench.opening import SimulatedChoice, open_meters, open_simulated, open_tour
from app.bench.read_cautions import ReadCautions
from app.bench.real_meters import MeterAt, known_meter, own_dialects
from app.bench.replay_bench import ReplayBench
from app.bench.restoring import restore
from app.bench.resuming import close_as_it_stands, look_at, resume
from app.bench.sound.desk import SoundDesk
from app.bench.told_meter import keep_told, told_of
from app.bench.told_words import ToldMeter
from app.bench.tour import BRISK as TOUR_SPEED
from app.choices import ChoiceDesk
from app.data_files import procedure_from
from app.job_shelf import JobFolders
from app.known_lists import KnownLists, local, session_line
from app.meter_search import check_address, list_meters
from app.papers import LocalPapers
from app.records.exporting import export_session
from app.records.session_folder import (
    PastSession,
    find_session,
    is_in_use,
    is_long,
    list_sessions,
    name_session,
    open_session,
)
from app.refusals import refusing
from app.settings import AudioChoice, RememberedMeter, Settings, SoundChoice
from app.settings_file import SettingsFile
from app.windows.paper_ports import WarmUps
from app.windows.ports import FoundMeters, Unfinished
from app.windows.start_lists import Card, SessionLine
from drivers.addresses import AddressKind, parse_address
from drivers.checking import CheckLine
from drivers.clock import ScaledClock
from drivers.simulated.units import SURPRISE, drawn_unit
from procedures.amplifier import Amplifier
from procedures.events import Supply
from procedures.job import Naming, UnitName
from procedures.library import shipped_procedures

CHANNELS = ("left bias", "right bias")


class RecordedSessions:
    """The sessions that were recorded on this computer; see `app.windows.ports.SessionShelf`."""

    def __init__(self, root: Path, settings: Callable[[], Settings] = Settings) -> None:
        self._root = root
        self._settings = settings

    def sessions(self) -> tuple[SessionLine, ...]:
        """Newest first, read from both ends of their journals."""
        return tuple(session_line(past) for past in list_sessions(self._root))

    @refusing
    def open(self, key: str) -> ReplayBench | LongReview:
        """The session as a bench that is judged again from its record; a long one as it was recorded."""
        folder = find_session(self._root, key)
        if is_long(folder):
            restored = recall(folder)
            header, naming = restored.session.journal.header, restored.session.journal.naming
            return LongReview(restored, str(naming.unit) if naming is not None else header.unit)
        session = open_session(folder)
        naming = session.journal.naming
        unit = str(naming.unit) if naming is not None else session.journal.header.unit
        return ReplayBench(restore(session), unit)

    @refusing
    def export_csv(self, key: str, path: Path) -> str:
        """Write a session's readings; a sentence that says what was written."""
        return export_session(find_session(self._root, key), path)

    def report(self, key: str, path: Path) -> str:
        """Write a session's service report; what was written, in words."""
        return apart(_report, self._root, key, path, self._settings())

    @refusing
    def name(self, key: str, unit: str, job: str) -> None:
        """File a session under a unit and a job, afterwards."""
        name_session(find_session(self._root, key), Naming(UnitName(model=unit), job=job))


def _report(root: Path, key: str, path: Path, settings: Settings) -> str:
    from app.reports.gathering import Wanted, save_report

    return save_report(root, key, path, settings, Wanted())


class LocalWorkshop(KnownLists):
    """Meters, amplifiers, procedures and sessions of this computer."""

    def __init__(self, settings: Settings, settings_path: Path, root: Path) -> None:
        self.settings = settings
        self.sound: SoundDesk | None = None
        self.file_away: Callable[[], object] | None = None  # files closed sessions, in the background
        self._cautions = ReadCautions(lambda: datetime.now(UTC))
        self._settings_file = SettingsFile(settings_path, settings)
        self.choices = ChoiceDesk(lambda: self.settings, self._take, self._settings_file)
        super().__init__(lambda: self.settings, root)
        self._shelf = RecordedSessions(root, lambda: self.settings)
        self.papers = LocalPapers(self._root, lambda: self.settings)

    @property
    def shelf(self) -> RecordedSessions:
        """The past sessions."""
        return self._shelf

    @property
    def jobs(self) -> JobFolders:
        """The job sheets; what changes in them is filed like closed sessions."""
        return JobFolders(self._root, lambda: self.settings, self.file_away)

    # --- sound --------------------------------------------------------------------------------------

    def keep_sound(self, choice: SoundChoice) -> None:
        """Remember what was chosen about sound."""
        self.settings = self.settings.model_copy(update={"sound": choice})
        self.save()

    @property
    def audio(self) -> MeasuringDevices:
        """The devices for measuring."""
        return MeasuringDevices(self.settings.audio, self._keep_audio, self.settings.visa_library)

    def keep_look(self, look: str) -> None:
        """Remember which shades were chosen."""
        self.settings = Settings.model_validate(self.settings.model_dump() | {"appearance": look})
        self.save()

    def _keep_audio(self, choice: AudioChoice) -> None:
        self.settings = self.settings.with_audio(choice)
        if self.sound is not None:
            self.sound.choose(self.settings.sound)
        self.save()

    def _heard(self, bench: LiveBench) -> LiveBench:
        """Start a bench, with sound where there is any."""
        bench.on_leave(lambda: self._cautions.learn(bench))
        if self.sound is not None:
            bench.be_heard(self.sound)
        if self.file_away is not None:
            bench.on_closed(self.file_away)
        bench.on_closed(partial(prepare_columns, bench.record.folder))
        if bench.practice is None:
            self._keep_awake(bench)
            hear_signals(bench, lambda: self.settings)
        bench.start()
        return bench

    def _keep_awake(self, bench: LiveBench) -> None:
        awake = KeptAwake()
        awake.begin_beside(bench.note)
        bench.on_leave(awake.end)

    # --- what there is ------------------------------------------------------------------------------

    @refusing
    def search_meters(self) -> FoundMeters:
        """Which meters are there now, and which bus could not be searched."""
        listing = list_meters(self.settings)
        cards = tuple(
            Card(one.address, one.what, ". ".join(filter(None, (one.about, one.hint))))
            for one in listing.meters
        )
        return FoundMeters(cards, tuple(f"{one.source}: {one.sentence}." for one in listing.troubles))

    @refusing
    def check_meter(self, address: str) -> tuple[CheckLine, ...]:
        """Look at the meter at an address without changing its settings."""
        return check_address(address, self.settings, own_dialects())

    def amplifier(self, key: str) -> Amplifier | None:
        """What is known about an amplifier."""
        return self.amplifier_shelf.all().get(key)

    @refusing
    def describe(self, amplifier: Amplifier) -> str:
        """Keep an amplifier that a person described; its key among the cards."""
        return self.amplifier_shelf.keep(amplifier)

    def unfinished(self) -> tuple[Unfinished, ...]:
        """Sessions that a crash or a power cut left open, newest first."""
        left = [
            past
            for past in list_sessions(self._root)
            if not past.closed and past.header is not None and not is_in_use(past.folder)
        ]
        return tuple(filter(None, (self._unfinished(past) for past in left[:5])))

    def _unfinished(self, past: PastSession) -> Unfinished | None:
        assert past.header is not None
        title = f"{past.header.title}, {past.unit or 'unit not named'}"
        try:
            found = apart(look_at, past.folder) if is_long(past.folder) else look_at(past.folder)
        except (OSError, ValueError) as refusal:
            return Unfinished(
                past.key, title, local(past.header.started_utc), Supply.OFF, False, str(refusal)
            )
        return Unfinished(
            past.key,
            title,
            local(found.last_seen),
            found.supply,
            not found.refusal,
            found.refusal,
            past.header.practice,
        )

    # --- what is told about an instrument -------------------------------------------------------------

    @refusing
    def told_meter(self, address: str) -> ToldMeter:
        """What was told about the meter at an address."""
        return told_of(address, self.settings)

    @refusing
    def tell_meter(self, told: ToldMeter) -> None:
        """Keep what a person tells about a meter."""
        self.settings = keep_told(told, self.settings)
        self.save()

    # --- what is asked once of an instrument ----------------------------------------------------------

    @refusing
    def input_question(self, address: str) -> str:
        """What to ask about the input of the meter at an address; empty when it is known or has none.

        A meter that was declared at another address is known again by its identity.
        """
        question = input_question(address)
        if not question:
            return ""
        _, said = declared(address, self.settings)
        if said is None:
            return question
        if self.settings.declared_input(said.address) != said:
            self.settings = self.settings.declaring(said)  # others may have changed them while it was asked
            self.save()
        return ""

    def job_meters(self, amplifier: str) -> tuple[str, ...]:
        """The addresses of the meters that a guided job on the amplifier would use."""
        chosen = self.amplifier(amplifier)
        many = len(chosen.channel) if chosen is not None else len(CHANNELS)
        return tuple(one.address for one in self._for_the_job(many)) or ("typed",)

    def _for_the_job(self, many: int) -> list[RememberedMeter]:
        """The meters that were used last, without those that were declared earthed."""
        said = {one.address: self.settings.declared_input(one.address) for one in self.settings.meters}
        fit = [one for one in self.settings.meters if (known := said[one.address]) is None or known.isolated]
        return fit[:many]

    @refusing
    def declare_input(self, address: str, isolated: bool) -> None:
        """A person says whether the input of the meter at an address is isolated from earth."""
        self.settings = self.settings.declaring(declaration(address, isolated, self.settings))
        self.save()

    # --- beginning ------------------------------------------------------------------------------------

    @refusing
    def watch(self, meter: str) -> LiveBench:
        """Watch a remembered meter, by its address."""
        known = next((one for one in self.settings.meters if one.address == meter), None)
        if known is None:
            raise ValueError(f"the meter {meter} is not remembered any more: give its address")
        return self._watching(known)

    @refusing
    def watch_address(self, address: str) -> LiveBench:
        """Watch the meter at an address that a person typed; `typed` and `simulated` are addresses too."""
        kind = parse_address(address).kind
        if kind is AddressKind.TYPED:
            watch = shipped_procedures()["watch"]
            return self._begun(open_meters([], watch, self._root, self.settings, typed=CHANNELS[:1]))
        if kind is AddressKind.SIMULATED:
            return self.simulated("healthy", "watch", self.settings.practice_speed)
        known = next((one for one in self.settings.meters if one.address == address), None)
        return self._watching(known or RememberedMeter(name="meter", address=address))

    def _watching(self, meter: RememberedMeter) -> LiveBench:
        at = self._known(meter.name, meter.address, meter.channel)
        bench = open_meters([at], shipped_procedures()["watch"], self._root, self.settings)
        self._remember(meter)
        return self._begun(bench)

    def _known(self, name: str, address: str, channel: str) -> MeterAt:
        """A meter with what is remembered of it; lines and files name their channels themselves."""
        at = known_meter(name, address, channel if "=" in channel else None, self.settings)
        return at if at.channel is not None else known_meter(name, address, channel, self.settings)

    def _wired(self, name: str, meter: RememberedMeter, names: list[str], number: int) -> MeterAt:
        """A meter of a guided job: on the channels that its inputs are called after, else on the next one."""
        at = self._known(name, meter.address, meter.channel)
        if at.more and all(lead.channel in names for lead in at.leads):
            return at
        return known_meter(name, meter.address, names[number - 1], self.settings)

    def _begun(self, bench: LiveBench) -> LiveBench:
        """Start a bench, and learn about its meters when it is left."""
        bench.on_leave(lambda: self._learn(bench))
        return self._heard(bench)

    def _learn(self, bench: LiveBench) -> None:
        """Remember who the meters said they were and what their figures are, for the next time."""
        self.settings = learned(bench, self.settings)
        self.save()

    @refusing
    def watch_typed(self, volts: float) -> LiveBench:
        """Watch a channel whose values are typed, beginning with this one."""
        watch = shipped_procedures()["watch"]
        bench = self._begun(open_meters([], watch, self._root, self.settings, typed=CHANNELS[:1]))
        bench.typed(CHANNELS[0], volts)
        return bench

    @refusing
    def guided(
        self, amplifier: str, procedure: str, serial: str = "", remembered: WarmUps = (), job: str = ""
    ) -> LiveBench:
        """Carry out a procedure on an amplifier with the meters that were used last, else typed."""
        begun_for = job_meant(self._root, job)
        chosen = self.amplifier(amplifier)
        if chosen is None:
            raise ValueError(f"the amplifier {amplifier!r} is not known any more: describe it again")
        names = [channel.name for channel in chosen.channel]
        known = in_lead_order(self._for_the_job(len(names)), names)
        left_out = [one.name for one in self.settings.meters[: len(names)] if one not in known]
        at = [
            self._wired(f"{one.name} {number}" if len(known) > 1 else one.name, one, names, number)
            for number, one in enumerate(known, start=1)
        ]
        bench = open_meters(
            at,
            procedure_from(procedure),
            self._root,
            self.settings,
            amplifier=chosen,
            typed=() if at else names,
            notice=f"Left out, because declared earthed: {', '.join(left_out)}." if left_out else "",
            serial=(number := " ".join(serial.split())),
            remembered=remembered,
            read=self._cautions.of,
        )
        self.settings = self.settings.model_copy(
            update={"last_amplifier": amplifier, "last_procedure": procedure}
        )
        self.save()
        file_begun(begun_for, bench, UnitName(chosen.maker, chosen.model, number))
        bench.on_leave(lambda: self._keep_leads(bench))
        return self._begun(bench)

    def _keep_leads(self, bench: LiveBench) -> None:
        self.settings = remembering_leads(self.settings, bench)

    @refusing
    def simulated(self, unit: str, procedure: str, speed: float, remembered: WarmUps = ()) -> LiveBench:
        """Carry out a procedure on the simulated bench, over HiSLIP."""
        chosen = procedure_from(procedure)
        unit = drawn_unit(secrets.randbits(32)) if unit == SURPRISE else unit
        clock = ScaledClock(speed)
        choice = SimulatedChoice(unit, remembered=remembered)
        bench = open_simulated(choice, chosen, self._root, clock, self.settings, read=self._cautions.of)
        return self._heard(bench)

    def tour_wanted(self) -> bool:
        """Whether the tour was never shown on this computer."""
        return not self.settings.tour_seen

    @refusing
    def tour(self) -> LiveBench:
        """The tour on the simulated bench, in a folder that goes with it; it is wanted once."""
        folder = TemporaryDirectory(prefix="warmtrim-tour-", ignore_cleanup_errors=True)
        bench = open_tour(Path(folder.name), ScaledClock(TOUR_SPEED), self.settings, folder.cleanup)
        self.settings = self.settings.model_copy(update={"tour_seen": True})
        self.save()
        return self._heard(bench)

    # --- after a crash --------------------------------------------------------------------------------

    @refusing
    def resume(self, key: str, off_minutes: float | None) -> LiveBench:
        """Go on with an unfinished session in a new segment; `off_minutes` None: it was never off."""
        folder = find_session(self._root, key)
        return self._heard(resume(folder, off_minutes, self.settings))

    @refusing
    def close_unfinished(self, key: str, off_minutes: float | None) -> None:
        """Close an unfinished session as it stands."""
        close_as_it_stands(find_session(self._root, key), off_minutes)

    def _remember(self, meter: RememberedMeter) -> None:
        self.settings = self.settings.remembering(meter)
        self.save()

    def _take(self, settings: Settings) -> None:
        self.settings = settings

    def save(self) -> None:
        """Keep the settings; a folder that cannot be written costs the memory, not the job."""
        try:
            self._settings_file.keep(self.settings)
        except OSError:
            return
