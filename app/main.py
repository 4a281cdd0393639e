"""The composition root: what the command line chooses is built and connected here, and nowhere else."""

from __future__ import annotations

import argparse
import gc
import os
import sys
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from app import commands
from app.records.filing import file_apart, file_in_background, opened_archive
from app.records.places import keep_error, settings_file
from app.settings import Settings, load_settings
from drivers.errors import DriverError
from procedures.checking import FileProblems

if TYPE_CHECKING:
    from rich.console import Console

    from app.practice_run import PracticePlan
    from app.windows.ports import Workshop
    from app.workshop import LocalWorkshop

REFUSALS: tuple[type[Exception], ...] = (DriverError, FileProblems, OSError, ValueError)

FILING_S = 2.0  # how long a command waits for the archive; what is not filed then is filed the next time


def main(arguments: Sequence[str]) -> int:
    """Run the program; its exit code."""
    return commands.run(arguments, COMMANDS, REFUSALS)


def announced_display() -> bool:
    """Whether there is a screen for a window. Qt itself would only abort without one."""
    if sys.platform.startswith("linux"):
        return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
    return True


def _console() -> Console:
    from rich.console import Console

    return Console(highlight=False, markup=False)  # names may have brackets


def _settings(chosen: argparse.Namespace) -> Settings:
    settings, trouble = load_settings(settings_file())
    if trouble:
        print(trouble, file=sys.stderr)
    return settings


def _root(chosen: argparse.Namespace, settings: Settings) -> Path:
    """Where the session folders are: as the command says, else as the settings say."""
    return Path(chosen.folder) if chosen.folder is not None else settings.sessions_path()


def _filing(settings: Settings) -> Callable[[Path], str]:
    """What files a closed session, or says in one sentence why that has to wait."""
    from app.records.archive import file_now
    from app.records.archive_place import open_archive

    return lambda folder: file_now(lambda: open_archive(settings.archive), folder)


def _start(chosen: argparse.Namespace) -> int:
    """Without a command: the window, or, where there is no display, the whole job in the terminal."""
    if announced_display():
        return _window(chosen)
    from app.bench.opening import SimulatedChoice
    from app.practice_memory import practised_before
    from app.practice_run import PracticePlan
    from procedures.library import shipped_procedures

    console = _console()
    console.print(
        "There is no display, so no window can be opened. The whole job is carried out here instead, on the "
        "simulated bench, by a scripted pair of hands and faster than life. (`--help` lists the commands.)",
        soft_wrap=True,
    )
    settings = _settings(chosen)
    procedure = shipped_procedures()["two-channel-bias-trim"]
    root = _root(chosen, settings)
    choice = SimulatedChoice(remembered=practised_before(settings.archive, SimulatedChoice().unit))
    plan = PracticePlan(choice, procedure, root, settings, file_away=_filing(settings))
    return _practise_or_step(plan, console)


def _practise_or_step(plan: PracticePlan, console: Console) -> int:
    """Over sockets where this computer lets a program listen on loopback, else within the process."""
    from app.practice_run import practise

    try:
        return practise(plan, console)
    except PermissionError as error:
        if plan.stepped:
            raise
        console.print(f"No server may listen here ({error}); the meters are simulated within the program.")
        return practise(replace(plan, stepped=True), console)


def _window(chosen: argparse.Namespace) -> int:
    if not announced_display():
        print("There is no display; `practice` does the job in the terminal.", file=sys.stderr)
        return 1
    from app.known_lists import KnownLists
    from app.windows.application import run_window
    from app.windows.theme import Look

    settings = _settings(chosen)
    root = _root(chosen, settings)
    made: list[LocalWorkshop] = []

    gc.disable()  # imports make no garbage; looking for it takes a tenth of the start

    def make() -> Workshop:
        try:
            made.append(_workshop(settings, root))
        finally:
            gc.freeze()
            gc.enable()
        return made[0]

    def afterwards() -> None:
        _import_the_bench()
        file_apart(settings.archive, root)  # what could not be filed the last time

    def keep_geometry(geometry: str) -> None:
        if made:
            made[0].settings = made[0].settings.model_copy(update={"window_geometry": geometry})
            made[0].save()

    return run_window(
        KnownLists(lambda: settings, root),
        make,
        look=Look(settings.appearance),
        spoken=settings.language,
        geometry=settings.window_geometry,
        keep_geometry=keep_geometry,
        begin=lambda window: window.first_start(),
        afterwards=afterwards,
        report=lambda details: print(f"details: {keep_error(details)}", file=sys.stderr),
        argv=["warmtrim"],
    )


def _workshop(settings: Settings, root: Path) -> LocalWorkshop:
    """All that a window can begin. Takes a second of imports: for a thread beside the window."""
    from app.sound_options import sound_desk
    from app.workshop import LocalWorkshop

    workshop = LocalWorkshop(settings, settings_file(), root)
    workshop.sound = sound_desk(settings.sound, workshop.keep_sound)
    workshop.file_away = lambda: file_apart(settings.archive, root)
    return workshop


def _file_away(settings: Settings, root: Path) -> threading.Thread:
    return file_in_background(lambda: opened_archive(settings.archive), root)


def _import_the_bench() -> None:
    """What a bench needs once readings come: imported here, it does not hold up the first of them."""
    import scipy.linalg
    import scipy.special  # noqa: F401

    import drivers.links.tcp
    import drivers.links.visa  # noqa: F401


def _practice(chosen: argparse.Namespace) -> int:
    from app.begun_for_job import job_meant
    from app.bench.opening import SimulatedChoice
    from app.data_files import procedure_from
    from app.practice_memory import practised_before
    from app.practice_run import SPEED, PracticePlan, practise
    from drivers.simulated.units import SURPRISE, drawn_unit

    settings = _settings(chosen)
    unit = drawn_unit(chosen.seed) if chosen.unit == SURPRISE else chosen.unit
    # What the lot has drawn must not be told by its past.
    before = practised_before(settings.archive, unit) if chosen.unit != SURPRISE else ()
    choice = SimulatedChoice(
        unit, chosen.meters, chosen.seed, instruments=chosen.instruments, remembered=before
    )
    procedure = procedure_from(chosen.procedure)
    folder = _root(chosen, settings)
    speed = chosen.speed or SPEED
    filing = _filing(settings)
    job = job_meant(folder, chosen.job)
    plan = PracticePlan(choice, procedure, folder, settings, speed, chosen.stepped, file_away=filing, job=job)
    return practise(plan, _console())


def _watch(chosen: argparse.Namespace) -> int:
    from app.watch_command import carry_out_watch

    settings = _settings(chosen)
    return carry_out_watch(chosen, settings, settings_file(), _root(chosen, settings), _filing(settings))


def _meters(chosen: argparse.Namespace) -> int:
    from app.meters_command import carry_out_meters

    return carry_out_meters(chosen, _settings(chosen), settings_file())


def _sessions(chosen: argparse.Namespace) -> int:
    from app.records.session_folder import list_sessions
    from app.session_lines import session_table

    root = _root(chosen, _settings(chosen))
    past = list_sessions(root)[: chosen.most]
    if not past:
        print(f"There are no sessions in {root}.")
        return 0
    _console().print(session_table(past))
    return 0


def _export(chosen: argparse.Namespace) -> int:
    from app.export_command import carry_out_export

    settings = _settings(chosen)
    return carry_out_export(chosen, _root(chosen, settings), settings)


def _import(chosen: argparse.Namespace) -> int:
    from app.export_command import carry_out_import

    return carry_out_import(chosen, _root(chosen, _settings(chosen)))


def _replay(chosen: argparse.Namespace) -> int:
    from app.records.session_folder import find_session, open_session
    from procedures.replay import compare

    root = _root(chosen, _settings(chosen))
    worst = 0
    for key in chosen.session:
        session = open_session(find_session(root, key))
        for problem in session.journal.problems:
            print(f"{session.folder.name}: {problem}")
        comparison = compare(session.journal.header, session.journal.facts)
        print(f"{session.folder.name}: {comparison.sentence}")
        if not comparison.same and comparison.same_rules:
            worst = 1
    return worst


def _verify(chosen: argparse.Namespace) -> int:
    from app.record_commands import carry_out_verify

    return carry_out_verify(chosen, _root(chosen, _settings(chosen)))


def _archive(chosen: argparse.Namespace) -> int:
    from app.archive_command import carry_out_archive

    settings = _settings(chosen)
    return carry_out_archive(chosen, _root(chosen, settings), settings.archive)


def _history(chosen: argparse.Namespace) -> int:
    from app.archive_command import carry_out_history

    settings = _settings(chosen)
    return carry_out_history(chosen, _root(chosen, settings), settings.archive)


def _job(chosen: argparse.Namespace) -> int:
    from app.job_command import carry_out_job

    settings = _settings(chosen)
    root = _root(chosen, settings)
    code = carry_out_job(chosen, root)
    if chosen.deed not in ("list", "show"):
        _file_away(settings, root).join(FILING_S)
    return code


def _sounds(chosen: argparse.Namespace) -> int:
    from app.meters_command import keep
    from app.sound_options import with_sound_options
    from app.sounds_command import carry_out_sounds

    loaded = _settings(chosen)
    settings = with_sound_options(chosen, loaded)
    keep(settings, settings_file(), loaded)
    return carry_out_sounds(chosen, settings.sound)


def _assess(chosen: argparse.Namespace) -> int:
    from app.records.session_folder import find_session, open_session
    from procedures.assessment import assess
    from procedures.assessment_words import told
    from procedures.replay import setup_of

    root = _root(chosen, _settings(chosen))
    for key in chosen.session:
        session = open_session(find_session(root, key))
        journal = session.journal
        print(f"{session.folder.name}, practice on the simulated bench: {journal.header.unit}")
        for line in told(assess(setup_of(journal.header), journal)):
            print(f"  {line}")
    return 0


def _audio(chosen: argparse.Namespace) -> int:
    from app.audio_command import carry_out_audio

    return carry_out_audio(chosen, _settings(chosen), settings_file())


def _report(chosen: argparse.Namespace) -> int:
    from app.report_command import carry_out_report

    settings = _settings(chosen)
    return carry_out_report(chosen, settings, settings_file(), _root(chosen, settings))


def _check(chosen: argparse.Namespace) -> int:
    from app.data_files import check_file

    results = [check_file(path) for path in chosen.file]
    for result in results:
        print(result.words)
    return 0 if all(result.fine for result in results) else 1


def _procedures(chosen: argparse.Namespace) -> int:
    from procedures.library import shipped_procedures

    for procedure in shipped_procedures().values():
        print(f"{procedure.id:<24} {procedure.title}: {procedure.purpose}")
    return 0


def _amplifiers(chosen: argparse.Namespace) -> int:
    from procedures.library import shipped_amplifiers

    for name, amplifier in shipped_amplifiers().items():
        print(f"{name:<24} {amplifier.output_stage.value}, {len(amplifier.channel)} channels")
    return 0


def _units(chosen: argparse.Namespace) -> int:
    from drivers.simulated.units import load_unit, shipped_units

    for name in shipped_units():
        unit = load_unit(name)
        print(f"{name:<20} {unit.maker} {unit.model}: {unit.title}")
    return 0


def _samples(chosen: argparse.Namespace) -> int:
    from app.sample_sessions import record_samples

    for folder in record_samples(chosen.into, Settings()):
        print(folder)
    return 0


def _judge(chosen: argparse.Namespace) -> int:
    from app.judge import run_judge

    return run_judge(chosen.arguments)


COMMANDS: dict[str, commands.Command] = {
    "start": _start,
    "window": _window,
    "practice": _practice,
    "watch": _watch,
    "meters": _meters,
    "sessions": _sessions,
    "export": _export,
    "import": _import,
    "replay": _replay,
    "verify": _verify,
    "job": _job,
    "archive": _archive,
    "history": _history,
    "sounds": _sounds,
    "assess": _assess,
    "audio": _audio,
    "report": _report,
    "check": _check,
    "procedures": _procedures,
    "amplifiers": _amplifiers,
    "units": _units,
    "samples": _samples,
    "judge": _judge,
}
