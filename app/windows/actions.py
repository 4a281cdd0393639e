"""The one table of what can be done on the working screen, and with which key.

No bare letters and no Space among the shortcuts: a text field must be able to have them. Space and the
foot switch are taken by the working screen itself while no text field has the focus.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import Qt


def QT_TRANSLATE_NOOP(context: str, text: str) -> str:  # the name that lupdate looks for
    """Mark words for translation where they are declared."""
    return text


@dataclass(frozen=True, slots=True)
class Deed:
    """Something a person can do. `keys` is a portable key sequence; `held` deeds can be switched back."""

    name: str
    title: str
    keys: str
    held: bool = False


DEEDS: tuple[Deed, ...] = (
    Deed("next", QT_TRANSLATE_NOOP("deeds", "Next"), "Ctrl+Return"),
    Deed("mark", QT_TRANSLATE_NOOP("deeds", "Mark"), "F2"),
    Deed("note", QT_TRANSLATE_NOOP("deeds", "Note"), "F3"),
    Deed("undo", QT_TRANSLATE_NOOP("deeds", "Undo note"), "Ctrl+Z"),
    Deed("lead", QT_TRANSLATE_NOOP("deeds", "Lead moved"), "F4"),
    Deed("type", QT_TRANSLATE_NOOP("deeds", "Type a value"), "F5"),
    Deed("unchanged", QT_TRANSLATE_NOOP("deeds", "Unchanged"), "Shift+F5"),
    Deed("supply", QT_TRANSLATE_NOOP("deeds", "Mains"), "F6"),
    Deed("lid", QT_TRANSLATE_NOOP("deeds", "Lid"), "F7"),
    Deed("drive", QT_TRANSLATE_NOOP("deeds", "Signal"), "Shift+F7", held=True),
    Deed("acknowledge", QT_TRANSLATE_NOOP("deeds", "Seen"), "F8"),
    Deed("pause", QT_TRANSLATE_NOOP("deeds", "Pause"), "F9", held=True),
    Deed("away", QT_TRANSLATE_NOOP("deeds", "Away"), "Shift+F9", held=True),
    Deed("mute", QT_TRANSLATE_NOOP("deeds", "Mute"), "F10", held=True),
    Deed("sound", QT_TRANSLATE_NOOP("deeds", "Sound"), "Ctrl+M"),
    Deed("audio", QT_TRANSLATE_NOOP("deeds", "Devices for measuring"), "Ctrl+Shift+M"),
    Deed("stop", QT_TRANSLATE_NOOP("deeds", "Stop"), "F12"),
    Deed("export", QT_TRANSLATE_NOOP("deeds", "Export CSV"), "Ctrl+E"),
    Deed("name", QT_TRANSLATE_NOOP("deeds", "Name it"), "Ctrl+N"),
    Deed("job", QT_TRANSLATE_NOOP("deeds", "Job sheet"), "Ctrl+J"),
    Deed("follow", QT_TRANSLATE_NOOP("deeds", "Back to now"), "Home"),
    Deed("cursor", QT_TRANSLATE_NOOP("deeds", "Cursors: one, two, none"), "Shift+F2"),
    Deed("cursor-swap", QT_TRANSLATE_NOOP("deeds", "The other cursor"), "Shift+F3"),
    Deed("cursor-earlier", QT_TRANSLATE_NOOP("deeds", "Cursor earlier"), "Ctrl+Left"),
    Deed("cursor-later", QT_TRANSLATE_NOOP("deeds", "Cursor later"), "Ctrl+Right"),
    Deed("cursor-far-earlier", QT_TRANSLATE_NOOP("deeds", "Cursor far earlier"), "Ctrl+Shift+Left"),
    Deed("cursor-far-later", QT_TRANSLATE_NOOP("deeds", "Cursor far later"), "Ctrl+Shift+Right"),
    Deed("zoom-in", QT_TRANSLATE_NOOP("deeds", "Traces closer"), "Ctrl+Up"),
    Deed("zoom-out", QT_TRANSLATE_NOOP("deeds", "Traces wider"), "Ctrl+Down"),
    Deed("pan-earlier", QT_TRANSLATE_NOOP("deeds", "Traces earlier"), "Alt+Left"),
    Deed("pan-later", QT_TRANSLATE_NOOP("deeds", "Traces later"), "Alt+Right"),
    Deed("others", QT_TRANSLATE_NOOP("deeds", "Other channels"), "Shift+F4"),
    Deed("found", QT_TRANSLATE_NOOP("deeds", "Compare: as found"), "Shift+F6"),
    Deed("past", QT_TRANSLATE_NOOP("deeds", "Compare: last session"), "Shift+F8"),
    Deed("curves", QT_TRANSLATE_NOOP("deeds", "Other curves"), "Ctrl+T"),
    Deed("replay-slower", QT_TRANSLATE_NOOP("deeds", "Slower"), "Shift+Down"),
    Deed("replay-faster", QT_TRANSLATE_NOOP("deeds", "Faster"), "Shift+Up"),
    Deed("replay-back", QT_TRANSLATE_NOOP("deeds", "10 s back"), "Shift+Left"),
    Deed("replay-on", QT_TRANSLATE_NOOP("deeds", "10 s on"), "Shift+Right"),
    Deed("replay-begin", QT_TRANSLATE_NOOP("deeds", "To its beginning"), "Shift+Home"),
    Deed("replay-end", QT_TRANSLATE_NOOP("deeds", "To its end"), "Shift+End"),
    Deed("further-down", QT_TRANSLATE_NOOP("deeds", "Further down"), "Shift+PgDown"),
    Deed("further-up", QT_TRANSLATE_NOOP("deeds", "Further up"), "Shift+PgUp"),
    Deed("look", QT_TRANSLATE_NOOP("deeds", "Other shades"), "Ctrl+L"),
    Deed("settings", QT_TRANSLATE_NOOP("deeds", "Settings"), "Ctrl+,"),
    Deed("full", QT_TRANSLATE_NOOP("deeds", "Full screen"), "F11", held=True),
    Deed("leave", QT_TRANSLATE_NOOP("deeds", "Back to the start"), "Ctrl+W"),
)

# What foot switches send that present themselves as keyboards; a workshop may have one more learned.
FOOT_KEYS: frozenset[int] = frozenset(
    {
        Qt.Key.Key_Space,
        Qt.Key.Key_PageDown,
        Qt.Key.Key_MediaPlay,
        *range(Qt.Key.Key_F13, Qt.Key.Key_F24 + 1),
    }
)
ONCE_S = 0.3  # a second press within this time counts once
