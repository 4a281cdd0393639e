"""`judge`: tables of every spelling in, JSON lines or a story out, nothing dropped silently."""

from __future__ import annotations

import json
import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from app.judge import run_judge
from app.records.session_folder import open_session
from procedures.events import SettledChanged


def warm_up(elapsed_s: float) -> float:
    """Millivolts."""
    return 13.4 - 0.5 * math.exp(-elapsed_s / 40.0) - 1.2 * math.exp(-elapsed_s / 300.0)


def table(
    path: Path, minutes: float = 40.0, header: str = "elapsed [s],left bias [mV]", scale: float = 1.0
) -> Path:
    rows = [header]
    for n in range(int(minutes * 60)):
        flicker = 0.004 * math.sin(2.3 * n)
        rows.append(f"{n},{(warm_up(n) + flicker) * scale:.9g}")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def said(capsys: pytest.CaptureFixture[str]) -> list[dict[str, Any]]:
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_json_holds_every_promised_field(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = table(tmp_path / "a.csv")

    assert run_judge([str(path), "--target", "13.5mV", "--json"]) == 0

    (row,) = said(capsys)
    assert row["file"] == str(path)
    assert row["channel"] == "left bias"
    assert 300.0 < row["settled_at_s"] < 2400.0
    assert row["revoked_at_s"] == []
    assert row["limit_percent"] == 3.0
    assert row["last_volts"] == pytest.approx(13.4e-3, rel=2e-3)
    assert row["alarms"] == []
    times = [one["at_s"] for one in row["forecasts"]]
    assert max(b - a for a, b in pairwise([0.0, *times, 2400.0])) <= 60.0
    assert set(row["forecasts"][0]) == {"at_s", "resting_volts", "low_volts", "high_volts", "spoken"}
    late = [one for one in row["forecasts"] if one["at_s"] > 900.0]
    assert all(one["spoken"] for one in late)
    assert all(one["low_volts"] <= 13.4e-3 <= one["high_volts"] for one in late)


@pytest.mark.parametrize(("unit", "scale"), [("V", 1e-3), ("mV", 1.0), ("uV", 1e3), ("µV", 1e3), ("μV", 1e3)])
def test_units_are_understood(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], unit: str, scale: float
) -> None:
    path = table(tmp_path / "a.csv", 7.0, f"t,left bias [{unit}]", scale)

    assert run_judge([str(path), "--target", "13.5mV", "--json"]) == 0

    (row,) = said(capsys)
    assert row["last_volts"] == pytest.approx(warm_up(419) / 1000.0, rel=1e-3)


def test_without_a_target_it_still_forecasts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run_judge([str(table(tmp_path / "a.csv", 20.0)), "--json"])

    (row,) = said(capsys)
    assert row["settled_at_s"] is None
    assert row["forecasts"][-1]["spoken"]


def test_the_same_file_gives_the_same_answer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = str(table(tmp_path / "a.csv", 15.0))
    run_judge([path, "--target", "13.5mV", "--json"])
    first = said(capsys)
    run_judge([path, "--json", "--target", "13.5mV"])

    assert said(capsys) == first


def test_many_files_are_one_process_and_one_bad_file_does_not_stop_the_others(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    good = table(tmp_path / "a.csv", 5.0)
    bad = tmp_path / "b.csv"
    bad.write_text("elapsed,left bias\n0,1\n", encoding="utf-8")

    code = run_judge([str(good), str(bad), str(tmp_path / "absent.csv"), str(good), "--json"])

    out, err = capsys.readouterr()
    assert code == 1
    assert len(out.splitlines()) == 2
    assert "left bias [mV]" in err
    assert "absent.csv" in err
    assert "Traceback" not in err


def test_bad_rows_are_counted_and_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "a.csv"
    path.write_text(
        "elapsed,left bias [mV],right bias [mV]\n"
        "0,12,12\nx,12,12\n2,twelve,12.5\n1,12,12\n3,,12.5\n4,OL,1,9\n",
        encoding="utf-8",
    )

    run_judge([str(path), "--json"])

    out, err = capsys.readouterr()
    left, right = (json.loads(line) for line in out.splitlines())
    assert left["bad_rows"] == 4
    assert (left["readings"], right["readings"]) == (1, 3)
    for words in ("line 3: 'x'", "line 4: 'twelve'", "line 5: its time 1 s", "line 7: it has 4 cells"):
        assert words in err


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("elapsed\n1\n", "one column only"),
        ("0,13.5\n1,13.5\n", "first line holds numbers"),
        ("elapsed,left bias\n0,1\n", "unit in brackets"),
        ("elapsed,left bias [furlong]\n0,1\n", "units are"),
        ("elapsed [week],left bias [mV]\n0,1\n", "a time in one of"),
        ("elapsed,a [mV],a [mV]\n0,1,1\n", "a name of its own"),
        ("elapsed,a [mV]\n", "no reading"),
    ],
)
def test_a_table_that_cannot_be_read_is_refused_in_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, words: str
) -> None:
    path = tmp_path / "a.csv"
    path.write_text(text, encoding="utf-8")

    assert run_judge([str(path), "--json"]) == 1

    err = capsys.readouterr().err
    assert words in err
    assert len(err.strip().splitlines()) == 1


@pytest.mark.parametrize("wrong", [["--target", "13.5"], ["--limit", "0%"], ["--tolerance", "x"]])
def test_wrong_options_are_refused_in_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], wrong: list[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        run_judge([str(tmp_path / "a.csv"), *wrong])

    assert stopped.value.code == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_without_json_it_tells_the_story_and_draws_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    path = table(tmp_path / "warm.csv")

    assert run_judge([str(path), "--target", "13.5mV"]) == 0

    story = capsys.readouterr().out
    assert "settled after" in story
    assert "time constants" in story
    assert (tmp_path / "warm-judged.png").stat().st_size > 5000


def test_a_blank_stretch_is_reported_as_not_watched(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = ["elapsed,left bias [mV],right bias [mV]"]
    rows += [f"{n},{'' if 100 < n < 160 else 13.4},13.4" for n in range(300)]
    path = tmp_path / "a.csv"
    path.write_text("\n".join(rows), encoding="utf-8")

    run_judge([str(path), "--target", "13.5mV", "--json"])

    left, right = said(capsys)
    assert [alarm["tier"] for alarm in left["alarms"]] == ["blind"]
    assert left["alarms"][0]["at_s"] == pytest.approx(115.0, abs=2.0)
    assert right["alarms"] == []


def test_a_recording_that_ended_is_not_called_blind(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nobody is silent who was not to speak again."""
    run_judge([str(table(tmp_path / "a.csv", 3.0)), "--target", "13.5mV", "--json"])

    assert said(capsys)[0]["alarms"] == []


@pytest.mark.parametrize("every_s", [10, 30, 60])
def test_a_slow_recording_is_not_called_blind(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], every_s: int
) -> None:
    """A reading a minute is a slow channel, not a silent one."""
    path = tmp_path / "a.csv"
    rows = [f"{n * every_s},{warm_up(n * every_s):.4f}" for n in range(1, 40)]
    path.write_text("\n".join(["elapsed [s],left bias [mV]", *rows]), encoding="utf-8")

    run_judge([str(path), "--target", "13.5mV", "--json"])

    assert said(capsys)[0]["alarms"] == []


def test_a_channel_that_falls_silent_after_its_first_reading_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a.csv"
    rows = [f"{n},13.4,{13.4 if n == 0 or n > 200 else ''}" for n in range(300)]
    path.write_text("\n".join(["s,left bias [mV],right bias [mV]", *rows]), encoding="utf-8")

    run_judge([str(path), "--target", "13.5mV", "--json"])

    assert [[alarm["tier"] for alarm in row["alarms"]] for row in said(capsys)] == [[], ["blind"]]


def test_while_a_channel_is_silent_its_forecasts_go_on_unspoken(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a.csv"
    rows = [f"{n},{warm_up(n):.4f}" for n in range(2400) if not 1200 < n < 1500]
    path.write_text("\n".join(["s,left bias [mV]", *rows]), encoding="utf-8")

    run_judge([str(path), "--json"])

    forecasts = said(capsys)[0]["forecasts"]
    assert max(b["at_s"] - a["at_s"] for a, b in pairwise(forecasts)) <= 60.0
    assert not any(one["spoken"] for one in forecasts if 1230.0 <= one["at_s"] < 1490.0)


def test_a_target_in_volts_does_not_stop_a_file_of_degrees(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Many files of many kinds are judged at once; what the target has no use for is said."""
    path = table(tmp_path / "a.csv", 3.0, "s,mug [K]")

    assert run_judge([str(path), "--target", "13.5mV", "--json"]) == 0

    out, err = capsys.readouterr()
    assert json.loads(out)["unit"] == "degC"
    assert "no column is in volts" in err


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "is empty"), (b"\x00\x01\x02", "backup copy"), (b'{"x": 1}\n', "backup copy")],
)
def test_a_journal_that_is_none_is_refused_with_the_next_step(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes, words: str
) -> None:
    (tmp_path / "journal.jsonl").write_bytes(content)

    assert run_judge([str(tmp_path)]) == 1

    err = capsys.readouterr().err
    assert (words in err, len(err.splitlines())) == (True, 1)


def test_a_recording_of_overload_alone_is_told_of(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "a.csv"
    path.write_text("s,left bias [mV]\n" + "".join(f"{n},OL\n" for n in range(60)), encoding="utf-8")

    assert run_judge([str(path), "--target", "13.5mV", "--json"]) == 0

    (row,) = said(capsys)
    assert (row["readings"], row["last_volts"], row["forecasts"]) == (0, None, [])
    assert {alarm["tier"] for alarm in row["alarms"]} == {"lead"}


@pytest.mark.parametrize("gap_s", [70, 100, 400, 3000])
def test_a_gap_is_not_told_as_a_step(tmp_path: Path, capsys: pytest.CaptureFixture[str], gap_s: int) -> None:
    """No line is drawn across what nobody saw, and the verdict does not wait for a step that was none."""
    path = tmp_path / "a.csv"
    seen = [n for n in range(5400) if not 600 < n < 600 + gap_s]
    rows = [f"{n},{warm_up(n) + 0.004 * math.sin(2.3 * n):.4f}" for n in seen]
    path.write_text("\n".join(["s,left bias [mV]", *rows]), encoding="utf-8")

    run_judge([str(path), "--target", "13.5mV", "--json"])

    (row,) = said(capsys)
    assert [one["kind"] for one in row["disturbances"]] == []
    assert row["settled_at_s"] < max(1000, 600 + gap_s + 600)


SAMPLES = Path(__file__).resolve().parents[2] / "sample_sessions"


@pytest.mark.parametrize("folder", sorted(p for p in SAMPLES.glob("*") if p.is_dir()), ids=lambda p: p.name)
def test_a_recorded_session_is_judged(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run_judge([str(folder), "--json"]) == 0

    rows = said(capsys)
    assert rows
    assert any(row["readings"] > 0 for row in rows)


def test_a_session_is_judged_as_it_was_guided(capsys: pytest.CaptureFixture[str]) -> None:
    """With trimmers that were within reach: it settled when the session itself said so."""
    folder = SAMPLES / "healthy-trim"
    said_then = [
        fact
        for fact in open_session(folder).journal.facts
        if isinstance(fact, SettledChanged) and fact.channel == "left bias"
    ]

    run_judge([str(folder / "journal.jsonl"), "--json"])

    left = said(capsys)[0]
    assert left["settled_at_s"] == next(fact.at_s for fact in said_then if fact.settled)
    assert left["revoked_at_s"] == [fact.at_s for fact in said_then if not fact.settled]


def test_another_target_is_judged_from_the_readings_of_a_session(
    capsys: pytest.CaptureFixture[str],
) -> None:
    run_judge([str(SAMPLES / "healthy-trim"), "--target", "100mV", "--json"])

    assert said(capsys)[0]["settled_at_s"] is None


def test_the_picture_of_a_session_is_named_after_its_folder(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    run_judge([str(SAMPLES / "over-biased-as-found" / "journal.jsonl")])

    assert [path.name for path in tmp_path.iterdir()] == ["over-biased-as-found-judged.png"]
