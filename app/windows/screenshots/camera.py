"""The camera: shows a screen in the look in force and keeps its picture."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PySide6.QtCore import QSize
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication, QDialog, QWidget

from app.language import ENGLISH
from app.windows.application import make_application
from app.windows.dialog_fit import fit_dialog
from app.windows.number_sign import NUMBER_SIGN
from app.windows.screenshots.scenes import visit_all
from app.windows.screenshots.visitor import PutsAway
from app.windows.theme import THEME, Look
from app.windows.worded import speak


@dataclass(frozen=True, slots=True)
class Camera(PutsAway):
    """Where the pictures go, how large they are, and what the name of each ends with."""

    app: QApplication
    folder: Path
    size: tuple[int, int]
    ending: str = ""

    def room(self) -> tuple[int, int]:
        """Width and height of the pictures."""
        return self.size

    def take(self, name: str, screen: QWidget) -> Path:
        """Show a screen in the look in force and keep its picture."""
        screen.resize(*self.size)
        screen.show()
        return self._keep(name, screen)

    def take_dialog(self, name: str, dialog: QDialog | None) -> Path | None:
        """Keep the picture of a dialog, no larger than the window would be, and close it."""
        if dialog is None:
            return None
        fit_dialog(dialog, QSize(*self.size))
        path = self._keep(name, dialog)
        dialog.close()
        return path

    def _keep(self, name: str, screen: QWidget) -> Path:
        scale = float(os.environ.get("QT_SCALE_FACTOR", "1"))
        suffix = f"{self.size[0]}x{self.size[1]}" + (f"-{round(scale * 100)}" if scale != 1.0 else "")
        for _ in range(4):  # a layout that follows its contents needs a turn or two
            self.app.processEvents()
        path = self.folder / f"{name}-{THEME.look.value.replace(' ', '-')}-{suffix}{self.ending}.png"
        _few_colours(screen.grab().toImage()).save(str(path))
        return path

    def wear(self, look: Look) -> None:
        """Take up a look."""
        THEME.look = look
        THEME.apply(self.app)


def _few_colours(image: QImage) -> QImage:
    """The picture with its 256 most used colours: plenty for flat drawing, and a third of the size."""
    plain = image.convertToFormat(QImage.Format.Format_RGB32)
    dots = np.frombuffer(plain.constBits(), dtype=np.uint32).reshape(
        plain.height(), plain.bytesPerLine() // 4
    )
    colours, counts = np.unique(dots[:, : plain.width()], return_counts=True)
    table = [int(c) for c in colours[np.argsort(counts)[::-1][:256]]]
    return plain.convertToFormat(QImage.Format.Format_Indexed8, table)


def take_all(folder: Path, size: tuple[int, int], only: str, spoken: str = ENGLISH) -> None:
    """Make every picture in every look, in a language and with its decimal sign."""
    folder.mkdir(parents=True, exist_ok=True)
    app = make_application(["warmtrim"])
    speak(spoken)
    NUMBER_SIGN.take("system")
    visit_all(Camera(app, folder, size, "" if spoken == ENGLISH else f"-{spoken}"), only)
