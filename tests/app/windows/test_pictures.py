from __future__ import annotations

from pathlib import Path

from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication

from app import language
from app.language.catalogue import Found
from app.windows.number_sign import NUMBER_SIGN
from app.windows.screenshots.camera import take_all
from app.windows.theme import THEME, Look
from app.windows.worded import speak

PICTURES = Path(__file__).parents[3] / "app" / "help" / "pictures"


def test_the_alarm_is_pictured_in_every_look(tmp_path: Path, qapp: QApplication) -> None:
    """The command brings the alarm about on the simulated bench and keeps it in three looks."""
    take_all(tmp_path, (1280, 800), "alarm")
    THEME.look = Look.LIGHT
    THEME.apply(qapp)

    taken = sorted(path.name for path in tmp_path.iterdir())
    assert taken == [f"alarm-{look}-1280x800.png" for look in ("dark", "high-contrast", "light")]
    for path in tmp_path.iterdir():
        image = QImage(str(path))
        assert (image.width(), image.height()) == (1280, 800)


def test_pictures_are_taken_in_german(tmp_path: Path, qapp: QApplication) -> None:
    """What is said on them is German, with a decimal comma, and their names say so."""
    said: dict[str, Found] = {}
    language.listen(said.__setitem__)
    try:
        take_all(tmp_path, (1280, 800), "called-act", "de")
        assert language.chosen() == "de"
        assert NUMBER_SIGN.sign == ","
    finally:
        language.listen(None)
        speak("en")
        NUMBER_SIGN.take("point")
        THEME.look = Look.LIGHT
        THEME.apply(qapp)

    assert sorted(path.name for path in tmp_path.iterdir())[0] == "called-act-dark-1280x800-de.png"
    assert said["Seen"].text == "Gesehen"


def test_the_pictures_of_the_help_are_small() -> None:
    """None is larger than 150 kB, and all are of one size."""
    pictures = list(PICTURES.glob("*.png"))
    assert pictures
    for path in pictures:
        assert path.stat().st_size < 150_000
        assert QImage(str(path)).width() == 1280
