"""What the start screen offers at once is what the files say once they are loaded and checked."""

from __future__ import annotations

from pathlib import Path

from app.known_lists import KnownLists
from app.records.session_folder import list_sessions, newest_sessions
from app.settings import RememberedMeter, Settings
from drivers.simulated.units import load_unit, shipped_units
from procedures.library import shipped_amplifiers, shipped_headings, shipped_procedures

SAMPLES = Path(__file__).parents[2] / "sample_sessions"


def test_headings_are_those_of_the_loaded_procedures() -> None:
    """The same ones in the same order, in the same words."""
    loaded = [(one.id, one.title, one.purpose) for one in shipped_procedures().values()]
    assert [(one.id, one.title, one.purpose) for one in shipped_headings()] == loaded


def test_units_are_those_that_can_be_loaded(tmp_path: Path) -> None:
    """The healthy one first, then one by lot; a card gives nothing away that the loaded unit keeps back."""
    cards = KnownLists(Settings, tmp_path).simulated_units()
    assert [card.key for card in cards[:2]] == ["healthy", "surprise"]
    named = {card.key: card for card in cards if card.key != "surprise"}
    assert sorted(named) == list(shipped_units())
    for name, card in named.items():
        unit = load_unit(name)
        assert (card.title, card.detail) == (f"{unit.maker} {unit.model}", unit.brought_in or unit.title)


def test_meters_and_amplifiers_are_those_that_are_known(tmp_path: Path) -> None:
    """From the settings as they are now, and from the shelf."""
    settings = Settings(meters=(RememberedMeter(name="bench meter", address="typed"),))
    lists = KnownLists(lambda: settings, tmp_path)
    assert [card.key for card in lists.meters()] == ["typed"]
    assert {card.key for card in lists.amplifiers()} == set(shipped_amplifiers())
    assert lists.last_job() == ("", "")


def test_the_newest_sessions_are_the_beginning_of_the_list(tmp_path: Path) -> None:
    """Folders that hold no session do not count."""
    (tmp_path / "zz-empty").mkdir()
    for folder in SAMPLES.iterdir():
        if folder.is_dir():
            (tmp_path / folder.name).symlink_to(folder)
    assert newest_sessions(tmp_path, 2) == list_sessions(tmp_path)[:2]
    assert len(KnownLists(Settings, tmp_path / "none").newest(2)) == 0
