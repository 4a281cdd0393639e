"""`watch` in the terminal: every kind of source, and one question an instrument."""

from __future__ import annotations

import argparse
import io
from pathlib import Path

import pytest

from app import watch_command
from app.commands import parser
from app.main import COMMANDS, main
from app.records.places import settings_file
from app.records.session_folder import list_sessions, open_session
from app.settings import DeclaredInput, Settings, load_settings
from app.workshop import LocalWorkshop
from drivers.meter import MeterAccuracy
from drivers.reading import Unit
from procedures.events import ChannelReading
from procedures.replay import compare, setup_of

NOBODY = "TCPIP::127.0.0.1::1::SOCKET"


def _chosen(*words: str) -> argparse.Namespace:
    return parser(COMMANDS).parse_args(["watch", *words])


def _file(folder: Path) -> Path:
    path = folder / "readings.csv"
    path.write_text("elapsed [s],left bias [mV],heatsink [C]\n0,13.4,31.2\n0.1,13.5,31.3\n")
    return path


def test_a_file_stands_in_for_meters_with_its_own_channels(session_root: Path, tmp_path: Path) -> None:
    """Its columns are inputs, its headers say what they are read in; nothing is asked about probes."""
    address = f"file:{_file(tmp_path)}"

    assert main(["--folder", str(session_root), "watch", address, "--minutes", "0.01"]) == 0

    (past,) = list_sessions(session_root)
    journal = open_session(past.folder).journal
    readings = [fact for fact in journal.facts if isinstance(fact, ChannelReading)]
    assert {(fact.channel, fact.unit) for fact in readings} == {
        ("left bias", Unit.VOLT),
        ("heatsink", Unit.CELSIUS),
    }
    assert setup_of(journal.header).channels[1].unit is Unit.CELSIUS
    assert compare(journal.header, journal.facts).same
    assert main(["--folder", str(session_root / "elsewhere"), "history"]) == 0  # it was filed at its end


def test_a_stream_names_its_channels_by_its_pattern(session_root: Path) -> None:
    """And what was chosen stands in the header, so that a session that was cut off can go on."""
    chosen = _chosen(
        f"stream:{NOBODY}", "--pattern", r"L=(?P<left_bias>\S+) T=(?P<sink>\S+)", "--unit", "mV", "--isolated"
    )
    settings = watch_command._about_earth(chosen, Settings())
    bench, typed, _ = watch_command._opened(chosen, settings, session_root)
    bench.leave()

    assert typed == []
    assert [(lead.input, lead.channel) for lead in bench.setup.leads] == [
        ("left_bias", "left bias"),
        ("sink", "sink"),
    ]
    (past,) = list_sessions(session_root)
    ways = open_session(past.folder).journal.header.ways
    assert ways["meter"]["pattern"].startswith("L=")


def test_several_inputs_are_named_one_by_one(session_root: Path) -> None:
    chosen = _chosen(f"stream:{NOBODY}", "--channel", "1=left bias, 2=right bias", "--isolated")
    settings = watch_command._about_earth(chosen, Settings())
    bench, *_ = watch_command._opened(chosen, settings, session_root)
    bench.leave()

    assert [(lead.input, lead.channel) for lead in bench.setup.leads] == [
        ("1", "left bias"),
        ("2", "right bias"),
    ]


def test_a_named_dialect_says_what_is_read(session_root: Path) -> None:
    """A resistance thermometer through a meter is a channel in degrees."""
    chosen = _chosen(NOBODY, "--channel", "heatsink", "--dialect", "pt100")
    bench, *_ = watch_command._opened(chosen, Settings(), session_root)
    bench.leave()

    assert bench.setup.channels[0].unit is Unit.CELSIUS


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ([NOBODY, "--dialect", "ful", "--isolated"], "there is no dialect called"),
        ([NOBODY, "--channel", "a", "--channel", "b"], "2 channels are named for 1 meters"),
        (["simulated", NOBODY], "watch it alone"),
        (["file:none.csv"], "no such file"),
        ([NOBODY], "`--isolated` declares it"),
    ],
)
def test_what_cannot_be_watched_is_one_sentence(
    words: list[str], sentence: str, session_root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["--folder", str(session_root), "watch", *words]) == 1

    err = capsys.readouterr().err
    assert sentence in err
    assert err.count("\n") == 1
    assert list(session_root.iterdir()) == []


# --- earth ------------------------------------------------------------------------------------------------


def test_each_instrument_is_asked_about_once() -> None:
    asked: list[str] = []

    def ask(question: str) -> bool:
        asked.append(question)
        return True

    settings = watch_command._about_earth(_chosen(NOBODY, "typed"), Settings(), ask)
    watch_command._about_earth(_chosen(NOBODY, "typed"), settings, ask)

    assert len(asked) == 2
    assert {said.address for said in settings.inputs} == {NOBODY, "typed"}


def test_whoever_does_not_know_is_asked_again() -> None:
    settings = watch_command._about_earth(_chosen(NOBODY), Settings(), lambda question: None)

    assert settings.inputs == ()


def test_an_answer_that_is_none_is_asked_for_again(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = iter(["perhaps", "E"])
    monkeypatch.setattr("builtins.input", lambda prompt: next(answers))

    assert watch_command._ask("Is it?") is False


def test_an_option_changes_what_was_declared() -> None:
    before = Settings(inputs=(DeclaredInput(address=NOBODY, isolated=True),))

    after = watch_command._about_earth(_chosen(NOBODY, "--earthed"), before)

    assert [said.isolated for said in after.inputs] == [False]


def test_an_earthed_meter_may_read_an_offset_against_ground(session_root: Path) -> None:
    chosen = _chosen(NOBODY, "--channel", "left offset", "--earthed", "--ground-referenced")
    bench, *_ = watch_command._opened(chosen, Settings(), session_root)
    bench.leave()

    assert bench.setup.earthing.ground_referenced


# --- what is kept -----------------------------------------------------------------------------------------


def test_a_meter_is_remembered_with_what_it_read(session_root: Path) -> None:
    words = ["watch", NOBODY, "--channel", "heatsink", "--isolated", "--minutes", "0.01"]

    assert main(["--folder", str(session_root), *words]) == 0

    (meter,) = load_settings(settings_file())[0].meters
    assert (meter.address, meter.channel) == (NOBODY, "heatsink")


def test_a_stream_is_remembered_with_its_pattern(session_root: Path, tmp_path: Path) -> None:
    """The window watches it again by its card, without being told what its lines look like."""
    address = f"stream:{NOBODY}"
    words = ["watch", address, "--pattern", r"L=(?P<left_bias>\S+)", "--isolated", "--minutes", "0.01"]
    assert main(["--folder", str(session_root), *words]) == 0
    settings, _ = load_settings(settings_file())

    workshop = LocalWorkshop(settings, settings_file(), session_root)
    bench = workshop.watch(address)
    bench.leave()

    assert [(lead.input, lead.channel) for lead in bench.setup.leads] == [("left_bias", "left bias")]


def test_the_figures_of_a_display_are_declared_once(session_root: Path) -> None:
    """0.5 % and 3 digits of 0.1 mV: kept, and known to the analysis of every typed channel."""
    chosen = _chosen("typed", "--display", "0.5", "3", "0.1")
    settings = watch_command._with_display(chosen, Settings())
    bench, typed, _ = watch_command._opened(_chosen("typed"), settings, session_root)
    bench.leave()

    assert typed == ["left bias"]
    accuracy = bench.setup.channels[0].accuracy
    assert isinstance(accuracy, MeterAccuracy)
    assert (accuracy.of_reading, accuracy.counts, accuracy.resolution) == (0.005, 3.0, pytest.approx(1e-4))


def test_what_is_typed_at_the_terminal_is_in_the_record(
    session_root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A value and Enter, Enter alone; a word that is no reading is one sentence, and nothing is lost."""
    monkeypatch.setattr("sys.stdin", io.StringIO("13,4\n\nwords\n"))

    assert main(["--folder", str(session_root), "watch", "typed", "--minutes", "0.01"]) == 0

    out = capsys.readouterr().out
    assert "watched only when you type" in out
    assert "'words' is not a reading" in out.replace("\n", " ")
    (past,) = list_sessions(session_root)
    facts = open_session(past.folder).journal.facts
    values = [fact.value for fact in facts if isinstance(fact, ChannelReading)]
    assert values == [0.0134, 0.0134]


def test_a_wrong_letter_does_not_end_the_typing(
    session_root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Bytes of another code page are a word that is no reading."""
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"13,4\n\xff\n13,5\n"), "utf-8"))

    assert main(["--folder", str(session_root), "watch", "typed", "--minutes", "0.01"]) == 0

    assert "is not a reading" in capsys.readouterr().out.replace("\n", " ")
    (past,) = list_sessions(session_root)
    facts = open_session(past.folder).journal.facts
    assert [fact.value for fact in facts if isinstance(fact, ChannelReading)] == [0.0134, 0.0135]


def test_whoever_ends_the_input_does_not_know(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl+D at the question is no error of the program."""

    def ended(_prompt: str) -> str:
        raise EOFError

    monkeypatch.setattr("builtins.input", ended)
    assert watch_command._ask("Is it isolated?") is None
