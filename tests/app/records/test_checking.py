"""A record damaged anywhere opens with what is whole and says what is not, or is refused in one sentence."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from small_session import BEGAN, facts_of, inputs, keep_session, small_setup

from app.main import main
from app.records.attachments import AttachmentRefused, attach, attached_files, keep
from app.records.checking import check_session
from app.records.session_folder import (
    JOURNAL,
    SessionRecord,
    SessionUnreadable,
    list_sessions,
    open_session,
)
from procedures.events import AudioMeasured, Note, Outcome, Verdict
from procedures.records.codec import decode
from procedures.records.journal import Anchor, Header
from procedures.replay import setup_entry
from procedures.verification import Finding


def _findings(folder: Path) -> dict[str, Finding]:
    return {one.question: one.finding for one in check_session(folder).answers}


def _one_sentence(words: str) -> bool:
    return "\n" not in words and "Traceback" not in words and len(words) > 10


def _facts_by_line(raw: bytes) -> list[int]:
    """How many facts stand in each line."""
    counts = []
    for line in raw.decode().split("\n")[:-1]:
        kind = line.split('"')[3]
        counts.append(0 if kind in ("header", "anchor", "closing", "named") else len(decode(line)))
    return counts


def test_a_whole_session_agrees_in_everything(session_root: Path) -> None:
    """Digest, lines, attachments, and every verdict recomputed."""
    checked = check_session(keep_session(session_root))

    assert {one.finding for one in checked.answers} == {Finding.AGREES}
    assert len(checked.verdicts) == 3
    assert all(one.same for one in checked.verdicts)
    assert checked.agrees


def _kept_with(root: Path, rules: str, outcome: Outcome) -> Path:
    """A session whose record says this of its channel, with a digest that agrees with that."""
    setup = small_setup()
    header = Header("0f3b", BEGAN, setup_entry(setup), rules, title="Look")
    record = SessionRecord.create(root, header)
    facts = [
        dataclasses.replace(fact, outcome=outcome) if isinstance(fact, Verdict) else fact
        for fact in facts_of(inputs())
    ]
    record.append(facts)
    record.close()
    return record.folder


def test_a_changed_verdict_is_found_though_its_digest_was_made_anew(session_root: Path) -> None:
    """The readings give it away, and the sentence says what they give."""
    folder = _kept_with(session_root, small_setup().rules, Outcome.FAILED)

    checked = check_session(folder)

    assert _findings(folder)["digest"] is Finding.AGREES
    assert _findings(folder)["verdicts"] is Finding.DIFFERS
    assert not checked.agrees
    told = next(one.sentence for one in checked.answers if one.question == "verdicts")
    assert "left bias in warm at 9 s: failed, 0.0131001" in told
    assert "is now left bias in warm at 9 s: passed" in told


def test_another_rules_version_would_judge_differently_and_that_is_no_damage(session_root: Path) -> None:
    """Exit code 0, and the words say so."""
    folder = _kept_with(session_root, "0", Outcome.FAILED)

    checked = check_session(folder)

    assert _findings(folder)["verdicts"] is Finding.OTHER_RULES
    assert checked.agrees
    assert main(["verify", str(folder)]) == 0


def _refusal(folder: Path) -> str:
    """Why a session cannot be opened; empty when it can."""
    try:
        open_session(folder)
    except SessionUnreadable as refused:
        assert _one_sentence(str(refused))  # noqa: PT017 - most are opened
        return str(refused)
    return ""


def _check_cuts(folder: Path) -> None:
    """At any length the whole lines are read, unless not even the header is whole."""
    path = folder / JOURNAL
    raw = path.read_bytes()
    counts = _facts_by_line(raw)
    facts = open_session(folder).journal.facts
    header = raw.index(b"\n")

    for length in range(len(raw)):
        path.write_bytes(raw[:length])
        if _refusal(folder):
            assert length < header
            continue
        journal = open_session(folder).journal
        # A line is whole without its line end too.
        lines = raw[:length].count(b"\n") + (raw[length : length + 1] == b"\n")
        assert journal.facts == facts[: sum(counts[:lines])]
        assert bool(journal.problems) is (b"\n" not in raw[length - 1 : length + 1])
        assert journal.closed is (length == len(raw) - 1)


@pytest.fixture
def kept(session_root: Path) -> Path:
    return keep_session(session_root, readings=20)


@pytest.fixture
def tiny(session_root: Path) -> Path:
    """One line of each shape, and a header that says little."""
    record = SessionRecord.create(session_root, Header("0f3a", BEGAN, {}, "1"))
    record.append([Anchor(0.0, BEGAN), *inputs(2)[:5], Note(9.0, "hum, Ω \u2028 and a line")])
    record.close()
    return record.folder


def _damaged(raw: bytes, places: range, by: int) -> Iterator[tuple[int, bytes]]:
    for place in places:
        yield place, raw[:place] + bytes([raw[place] ^ by]) + raw[place + 1 :]


def _check_damage(folder: Path, by: int, places: range, thoroughly: bool = False) -> None:
    """Every other line's facts are there, and the record does not pass for a whole one."""
    path = folder / JOURNAL
    raw = path.read_bytes()
    counts = _facts_by_line(raw)
    facts = open_session(folder).journal.facts
    for place, damaged in _damaged(raw, places, by):
        path.write_bytes(damaged)
        line = raw[:place].count(b"\n")
        if _refusal(folder):
            assert line == 0
            continue
        journal = open_session(folder).journal
        before, after = sum(counts[:line]), sum(counts[line + 1 + (raw[place] == 0x0A) :])
        assert journal.facts[:before] == facts[:before]
        assert after == 0 or journal.facts[-after:] == facts[-after:]
        assert not journal.closed
        assert all(_one_sentence(problem) for problem in journal.problems)
        if thoroughly:
            checked = check_session(folder)
            assert not checked.agrees
            assert all(_one_sentence(one.sentence) for one in checked.answers)
            assert len(list_sessions(folder.parent)) == 1
    path.write_bytes(raw)


def test_a_journal_cut_off_at_any_length_opens_with_its_whole_lines(tiny: Path) -> None:
    """Or is refused in one sentence, where not even its header is whole."""
    _check_cuts(tiny)


@pytest.mark.long
def test_a_journal_with_verdicts_cut_off_at_any_length(kept: Path) -> None:
    """The same of a whole session."""
    _check_cuts(kept)


@pytest.mark.parametrize("by", [0x02, 0x80])
def test_a_byte_changed_anywhere_leaves_every_other_line(tiny: Path, by: int) -> None:
    """Each byte of a small sample."""
    _check_damage(tiny, by, range((tiny / JOURNAL).stat().st_size))


def test_checking_a_damaged_record_says_what_is_wrong(kept: Path) -> None:
    """Whatever is damaged, no error of the program comes of it."""
    _check_damage(kept, 0x80, range(5, (kept / JOURNAL).stat().st_size, 97), thoroughly=True)


@pytest.mark.long
@pytest.mark.parametrize("by", [0x01, 0x04, 0x10, 0x20, 0x80, 0xFF])
def test_any_damage_to_any_byte(kept: Path, by: int) -> None:
    """Each byte, changed in several ways, checked through and through."""
    _check_damage(kept, by, range((kept / JOURNAL).stat().st_size), thoroughly=True)


def test_an_attachment_that_was_exchanged_is_found(kept: Path, tmp_path: Path) -> None:
    """It is kept under its digest, once."""
    picture = tmp_path / "Board.JPG"
    picture.write_bytes(b"not really a picture")

    first, second = attach(kept, picture), attach(kept, picture)

    assert first == second
    assert first.name == hashlib.sha256(picture.read_bytes()).hexdigest() + ".jpg"
    assert _findings(kept)["attachments"] is Finding.AGREES
    (place,) = attached_files(kept)
    place.write_bytes(b"another one")
    assert _findings(kept)["attachments"] is Finding.DIFFERS
    with pytest.raises(AttachmentRefused, match="cannot be read"):
        attach(kept, tmp_path / "none.jpg")


def test_the_command_checks_several_and_goes_on_after_one_that_is_gone(
    session_root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 1 when any is not in order."""
    folder = keep_session(session_root)

    code = main(["--folder", str(session_root), "verify", "nothing", folder.name])

    said = capsys.readouterr()
    assert code == 1
    assert "there is no session 'nothing'" in said.err
    assert "3 verdicts recomputed from the recorded inputs, and all say the same." in said.out


def test_a_recording_that_was_taken_away_is_missing(session_root: Path) -> None:
    """The journal names it by its digest; without it the record is not whole."""
    setup = small_setup()
    record = SessionRecord.create(session_root, Header("0f3c", BEGAN, setup_entry(setup), setup.rules))
    kept = keep(record.folder, b"samples", ".flac")
    record.append([Anchor(0.0, BEGAN), AudioMeasured(1.0, "r", "left", capture=kept.digest)])
    record.close()
    assert _findings(record.folder)["attachments"] is Finding.AGREES

    (record.folder / "attachments" / kept.name).unlink()

    assert _findings(record.folder)["attachments"] is Finding.INCOMPLETE
    assert not check_session(record.folder).agrees
