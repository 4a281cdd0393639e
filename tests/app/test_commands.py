"""The command line: every refusal is one sentence, and nothing is lost by it."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.commands import run
from app.main import COMMANDS, REFUSALS, main


def _said(capsys: pytest.CaptureFixture[str]) -> tuple[str, str]:
    captured = capsys.readouterr()
    return captured.out, captured.err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["practise"], "invalid choice"),
        (["practice", "--meters", "3"], "invalid choice: 3"),
        (["practice", "--speed", "0"], "too small"),
        (["export"], "session"),
        (["--nonsense"], "Unrecognized"),
        (["watch"], "address"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_a_wrong_command_is_one_sentence_and_exit_code_2(
    arguments: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is wrong, and where to look it up."""
    with pytest.raises(SystemExit) as stopped:
        main(arguments)

    out, err = _said(capsys)
    assert (stopped.value.code, out) == (2, "")
    assert words in err
    assert err.count("\n") == 1
    assert "Traceback" not in err


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["watch", "TCPIP::192.168.1.20::no-number::SOCKET"], "must be a number"),
        (["watch", "192.168.1.20:5025"], "did you mean TCPIP::192.168.1.20::5025::SOCKET"),
        (["practice", "--unit", "nobody"], "nobody"),
        (["practice", "--procedure", "warmup"], "warm-up"),
        (["export", "no-such-session"], "no session 'no-such-session'"),
        (["replay", "no-such-session"], "no session 'no-such-session'"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else "",
)
def test_what_cannot_be_done_is_one_sentence_and_exit_code_1(
    arguments: list[str], words: str, session_root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is wrong, where, and what would be right."""
    code = main(["--folder", str(session_root), *arguments])

    _, err = _said(capsys)
    assert code == 1
    assert words in err
    assert "Traceback" not in err
    assert list(session_root.iterdir()) == []


def test_a_folder_that_cannot_be_written_is_told_before_the_run(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file stands in the way of the sessions' folder."""
    (tmp_path / "sessions").write_text("in the way")

    code = main(["--folder", str(tmp_path / "sessions"), "practice", "--stepped"])

    _, err = _said(capsys)
    assert code == 1
    assert "nothing would be recorded" in err
    assert err.count("\n") == 1


def test_a_broken_procedure_file_is_told_with_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`check` says all that is wrong; running it is refused with the same words."""
    path = tmp_path / "broken.toml"
    path.write_text('format = 1\nid = "x"\ntitle = "X"\n[[step]]\nid = "a"\nkind = "wach"\ntitle = "A"\n')

    assert main(["check", str(path)]) == 1
    checked, _ = _said(capsys)
    assert main(["practice", "--procedure", str(path)]) == 1
    _, refused = _said(capsys)

    assert "broken.toml" in checked
    assert "watch" in checked
    assert checked.strip() == refused.strip()


def test_a_broken_amplifier_file_is_told_with_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Low above high is questioned."""
    path = tmp_path / "amp.toml"
    path.write_text(
        'format = 1\nmaker = "M"\nmodel = "N"\noutput_stage = "emitter follower"\n'
        '[[channel]]\nname = "left bias"\ntarget_millivolts = 10\nlow_millivolts = 12\nhigh_millivolts = 8\n'
    )

    assert main(["check", str(path)]) == 1
    assert "swapped" in _said(capsys)[0]


def test_files_that_cannot_be_read_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Missing, not text, not TOML: one line each."""
    (tmp_path / "bytes.toml").write_bytes(b"\xff\xfe\x00")
    (tmp_path / "words.toml").write_text("this is no TOML")

    code = main(["check", *(str(tmp_path / name) for name in ("none.toml", "bytes.toml", "words.toml"))])

    out, _ = _said(capsys)
    assert code == 1
    assert len(out.splitlines()) == 3


def test_the_files_that_ship_are_fine(capsys: pytest.CaptureFixture[str]) -> None:
    """Every procedure, amplifier and unit passes its own check."""
    root = Path(__file__).resolve().parents[2]
    files = [*root.glob("procedures/library/**/*.toml"), *root.glob("drivers/simulated/units/*.toml")]

    assert len(files) > 10
    assert main(["check", *map(str, files)]) == 0


def test_lists_name_what_there_is(capsys: pytest.CaptureFixture[str], session_root: Path) -> None:
    """Procedures, amplifiers, units, and no sessions yet."""
    for command in ("procedures", "amplifiers", "units"):
        assert main([command]) == 0
    assert main(["--folder", str(session_root), "sessions"]) == 0

    out, _ = _said(capsys)
    for words in ("two-channel-bias-trim", "healthy", "There are no sessions"):
        assert words in out


def test_an_error_of_the_program_itself_is_one_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    """The details go into a file, not to the person."""

    def breaks(chosen: object) -> int:
        raise ZeroDivisionError("division by zero")

    code = run(["units"], {**COMMANDS, "units": breaks}, REFUSALS)

    _, err = _said(capsys)
    assert code == 1
    assert err.count("\n") == 1
    assert "ZeroDivisionError" in err
    log = Path(err.rpartition("The details are in ")[2].strip().rstrip("."))
    assert "Traceback" in log.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["history", "--until", "9999-12-31"], "is no day"),
        (["export", ""], "no session was named"),
        (["watch", "typed", "--display", "1e309", "1", "1"], "too large"),
        (["practice", "--seed", "-1"], "too small"),
        (["job", "part", "117", "R1", "--quantity", "9" * 30], "cannot have been fitted"),
        (["job", "work", "117", "x", "--minutes", "-5"], "less than nothing"),
        (["report", "x", "--workshop", "x" * 500], "name: string should have at most 200"),
    ],
)
def test_odd_arguments_are_one_sentence(
    words: list[str], said: str, session_root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Never a defect of the program, the name of a function, or a library's page of words."""
    try:
        code = main(["--folder", str(session_root), *words])
    except SystemExit as ended:
        code = int(str(ended.code))
    told = capsys.readouterr().err
    assert code in (1, 2)
    assert said in told
    assert len(told.strip().splitlines()) == 1
    assert "made an error" not in told
