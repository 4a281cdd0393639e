"""A workshop made by hand, with one bench that it hands out for everything."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fake_bench import FakeBench, FakePractice, trimming_picture

from app.amplifier_desk import AmplifierDesk
from app.amplifier_shelf import AmplifierShelf
from app.bench.sound.desk import SoundDesk
from app.bench.told_words import ToldMeter
from app.records.history_facts import ModelHistory, Wanted
from app.settings import Settings
from app.windows.hearing_ports import AudioControls
from app.windows.jobs.ports import JobShelf
from app.windows.paper_ports import Laid, Recollection, WarmUps
from app.windows.ports import FoundMeters, Unfinished
from app.windows.start_lists import Card, SessionLine
from drivers.checking import CheckLine
from procedures.amplifier import Amplifier


class FakeShelf:
    """Three sessions; remembers what was asked."""

    def __init__(self) -> None:
        self.done: list[tuple[object, ...]] = []
        self.refusal: Exception | None = None
        self.lines = (
            SessionLine(
                "s3", "Halden 60 no. 0417", "2026-02-11 14:05", "Two-channel bias trim", 2712.0, "finished"
            ),
            SessionLine("s2", "not named", "2026-02-11 11:48", "Watch", 341.0, "Stopped by a person."),
            SessionLine(
                "s1", "Halden 60", "2026-02-10 16:20", "Two-channel bias trim", 1890.0, "finished", True
            ),
        )

    def sessions(self) -> tuple[SessionLine, ...]:
        return self.lines

    def open(self, key: str) -> FakeBench:
        if self.refusal:
            raise self.refusal
        return FakeBench(trimming_picture(review=True))

    def report(self, key: str, path: Path) -> str:
        if self.refusal is not None:
            raise self.refusal
        self.done.append(("report", key, path))
        return f"Service report, 3 pages: {path}"

    def export_csv(self, key: str, path: Path) -> str:
        if self.refusal:
            raise self.refusal
        self.done.append(("export", key, path))
        return f"5400 readings written to {path.name}."

    def name(self, key: str, unit: str, job: str) -> None:
        self.done.append(("name", key, unit, job))


class FakePapers(AmplifierDesk):
    """Papers of a workshop that has left `left_at` behind at every model called K-40, and no files."""

    def __init__(self, folder: Path = Path("nowhere")) -> None:
        super().__init__(AmplifierShelf(folder))
        self.left_at: tuple[float, ...] = ()
        self.looked_up: Recollection | None = None
        self.lines: tuple[SessionLine, ...] = ()
        self.asked: list[Wanted] = []
        self.history: ModelHistory | None = None
        self.still_outdated: list[int] = []
        self.traces: dict[str, Laid] = {}
        self.refusal: Exception | None = None

    def left_before(self, model: str) -> tuple[float, ...]:
        return self.left_at if model == "K-40" else ()

    def recollection(self, model: str, serial: str) -> Recollection | None:
        return self.looked_up if serial else None

    def practised(self, unit: str) -> Recollection | None:
        return self.looked_up

    def find(self, wanted: Wanted, *, file_first: bool = False) -> tuple[SessionLine, ...]:
        self.asked.append(wanted)
        if self.refusal is not None:
            raise self.refusal
        words = (wanted.words or wanted.serial or wanted.model).casefold()
        return tuple(line for line in self.lines if words in f"{line.title} {line.outcome}".casefold())

    def filed(self, key: str) -> SessionLine | None:
        return next((line for line in self.lines if line.key == key), None)

    def outdated(self) -> int:
        return self.still_outdated.pop(0) if self.still_outdated else 0

    def model_history(self, model: str, *, practice: bool) -> ModelHistory:
        assert self.history is not None
        return self.history

    def laid(self, keys: Sequence[str]) -> tuple[Laid, ...]:
        return tuple(self.traces[key] for key in keys)

    def take_in(self, path: Path) -> str:
        if path.name.startswith("bad"):
            raise ValueError(f"{path}: this is no whole bundle; ask for it to be sent again")
        return f"Imported: {path.stem}."


class FakeChoices:
    """Settings in memory; `trouble` is said instead of keeping them."""

    def __init__(self) -> None:
        self.now = Settings()
        self.trouble = ""

    def choose(self, **changes: object) -> str:
        self.now = Settings.model_validate(self.now.model_dump() | changes)
        return self.trouble


class FakeWorkshop:
    """Hands out one bench; a `refusal` makes every opening fail with its sentence."""

    def __init__(self) -> None:
        self.shelf = FakeShelf()
        self.sound: SoundDesk | None = None
        self.audio: AudioControls | None = None
        self.jobs: JobShelf | None = None
        self.looks: list[str] = []
        self.choices = FakeChoices()
        self.bench = FakeBench(trimming_picture())
        self.refusal: Exception | None = None
        self.done: list[tuple[object, ...]] = []
        self.tour_is_wanted = False
        self.papers = FakePapers()
        self.last = ("", "")
        self.left: tuple[Unfinished, ...] = ()
        self.questions: dict[str, str] = {}
        self.told: ToldMeter | Exception = ToldMeter("stream:ASRL/dev/ttyACM0::INSTR", lines=True)
        self.checked: tuple[CheckLine, ...] | Exception = ()

    def keep_look(self, look: str) -> None:
        self.looks.append(look)

    def meters(self) -> tuple[Card, ...]:
        return (
            Card("m1", "Bench meter · left bias", "TCPIP0::192.168.1.20::hislip0::INSTR"),
            Card("m2", "Second meter · right bias", "USB0::1::2::3::INSTR"),
        )

    def search_meters(self) -> FoundMeters:
        return FoundMeters((Card("GPIB0::22::INSTR", "used before, not found now"),), ("USB: needs libusb.",))

    def check_meter(self, address: str) -> tuple[CheckLine, ...]:
        if isinstance(self.checked, Exception):
            raise self.checked
        return self.checked

    def told_meter(self, address: str) -> ToldMeter:
        if isinstance(self.told, Exception):
            raise self.told
        return self.told

    def tell_meter(self, told: ToldMeter) -> None:
        if self.refusal:
            raise self.refusal
        self.done.append(("told", told))

    def input_question(self, address: str) -> str:
        return self.questions.get(address, "")

    def declare_input(self, address: str, isolated: bool) -> None:
        self.done.append(("declared", address, isolated))
        self.questions.pop(address, None)

    def job_meters(self, amplifier: str) -> tuple[str, ...]:
        return ("m1", "m2")

    def amplifiers(self) -> tuple[Card, ...]:
        return (Card("halden60", "Halden 60", "13.5 mV ± 5 %"),)

    def procedures(self) -> tuple[Card, ...]:
        return (Card("two-channel-trim", "Two-channel bias trim"), Card("warm-up", "Warm-up"))

    def last_job(self) -> tuple[str, str]:
        return self.last

    def simulated_units(self) -> tuple[Card, ...]:
        return (Card("healthy", "Halden 60", "healthy"), Card("runaway", "Halden 60", "runs away"))

    def newest(self, many: int) -> tuple[SessionLine, ...]:
        return self.shelf.lines[:many]

    def tour_wanted(self) -> bool:
        return self.tour_is_wanted

    def tour(self) -> FakeBench:
        self.bench = FakeBench(trimming_picture(practice=True, tour=True), FakePractice())
        return self._opened("tour")

    def unfinished(self) -> tuple[Unfinished, ...]:
        return self.left

    def _opened(self, *what: object) -> FakeBench:
        self.done.append(what)
        if self.refusal:
            raise self.refusal
        return self.bench

    def watch(self, meter: str) -> FakeBench:
        return self._opened("watch", meter)

    def watch_address(self, address: str) -> FakeBench:
        return self._opened("address", address)

    def watch_typed(self, volts: float) -> FakeBench:
        return self._opened("typed", volts)

    def guided(
        self, amplifier: str, procedure: str, serial: str = "", remembered: WarmUps = (), job: str = ""
    ) -> FakeBench:
        told = (serial, remembered) if serial else ()
        told += (job,) if job else ()
        return self._opened("guided", amplifier, procedure, *told)

    def amplifier(self, key: str) -> Amplifier | None:
        return None

    def describe(self, amplifier: Amplifier) -> str:
        self.done.append(("describe", amplifier.name))
        return "halden60"

    def simulated(self, unit: str, procedure: str, speed: float, remembered: WarmUps = ()) -> FakeBench:
        self.bench = FakeBench(trimming_picture(practice=True, speed=speed), FakePractice())
        return self._opened("simulated", unit, procedure, speed, *([remembered] if remembered else []))

    def resume(self, key: str, off_minutes: float | None) -> FakeBench:
        return self._opened("resume", key, off_minutes)

    def close_unfinished(self, key: str, off_minutes: float | None) -> None:
        self.done.append(("close", key, off_minutes))
