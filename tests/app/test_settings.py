"""Settings: declared once, kept whole, set aside when they cannot be read."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from app.records.places import default_sessions_folder
from app.settings import (
    MOST_REMEMBERED,
    DeclaredInput,
    RememberedMeter,
    Settings,
    load_settings,
    save_settings,
)
from drivers.meter import MeterFacts


def test_settings_come_back_as_they_were_saved(tmp_path: Path) -> None:
    """Types and all."""
    settings = Settings(mains_hz=60, settled_limit=0.02, appearance="dark", window_geometry="abc=")
    settings = settings.remembering(RememberedMeter(name="dmm", address="typed"))
    path = tmp_path / "deep" / "settings.json"

    save_settings(path, settings)

    assert load_settings(path) == (settings, "")
    assert [file.name for file in path.parent.iterdir()] == ["settings.json"]


def test_no_file_means_the_usual_settings(tmp_path: Path) -> None:
    """The first start says nothing."""
    assert load_settings(tmp_path / "none.json") == (Settings(), "")


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", '{"mains_hz": 55}', '{"settled_limit": "much"}', '{"meters": [{"name": ""}]}', "\x00"],
)
def test_a_file_that_cannot_be_read_is_set_aside_and_said(tmp_path: Path, text: str) -> None:
    """The program starts with the usual settings, and the old file is still there to look at."""
    path = tmp_path / "settings.json"
    path.write_text(text)

    settings, trouble = load_settings(path)

    assert settings == Settings()
    assert "could not be read" in trouble
    assert (tmp_path / "settings.unreadable").read_text() == text
    assert not path.exists()


def test_a_newer_versions_entries_are_passed_over(tmp_path: Path) -> None:
    """Going back to an older version costs what it does not know, and nothing else."""
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"mains_hz": 60, "of_the_future": 1}))

    assert load_settings(path) == (Settings(mains_hz=60), "")


def test_the_newest_meter_comes_first_and_none_twice() -> None:
    """The list of remembered meters stays short."""
    settings = Settings()
    for number in (*range(30), 5):
        settings = settings.remembering(RememberedMeter(name="dmm", address=f"address {number}"))

    assert len(settings.meters) == MOST_REMEMBERED
    assert settings.meters[0].address == "address 5"
    assert len({meter.address for meter in settings.meters}) == MOST_REMEMBERED


def test_sessions_are_kept_in_the_users_own_folder_unless_told_otherwise(tmp_path: Path) -> None:
    """The usual place of the operating system, or the one that was chosen."""
    assert Settings().sessions_path() == default_sessions_folder()
    assert Settings(sessions_folder=str(tmp_path)).sessions_path() == tmp_path


def test_one_slip_in_the_file_costs_one_entry(tmp_path: Path) -> None:
    """What was said about earth, the meters and the head of the report stand beside it."""
    kept = RememberedMeter(name="dmm", address="typed")
    settings = Settings(mains_hz=60, inputs=(DeclaredInput(address="a", isolated=False),), meters=(kept,))
    entries = settings.model_dump(mode="json")
    entries["practice_speed"] = "fast"
    slips = [{"name": "", "address": ""}, {"name": "x" * 99, "address": "b"}]
    entries["meters"] = [slips[0], *entries["meters"], slips[1]]
    path = tmp_path / "settings.json"
    path.write_text(json.dumps(entries))

    read, trouble = load_settings(path)

    assert read == settings
    assert "Some settings could not be read" in trouble
    assert (tmp_path / "settings.unreadable").exists()


def test_whatever_a_meter_calls_itself_the_settings_can_be_read_again(tmp_path: Path) -> None:
    """A stream of letters in place of an identity, and a procedure that lies deep."""
    facts = MeterFacts("x" * 5000, 0.1, 0.2, 0.2)
    settings = Settings(inputs=(DeclaredInput(address="a", isolated=True),), last_procedure="/deep" * 100)
    settings = settings.remembering(RememberedMeter(name="dmm", address="a")).having_met({"a": facts})
    path = tmp_path / "settings.json"

    save_settings(path, settings)

    assert load_settings(path) == (settings, "")
