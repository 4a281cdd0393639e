"""What takes seconds is done beside the window, so that it goes on answering."""

from __future__ import annotations

import contextlib
import sys
import threading
from collections.abc import Callable

from PySide6.QtCore import QObject, Signal


class Errand(QObject):
    """One thing that takes seconds, done beside the window. `done` carries what came of it or the refusal."""

    done = Signal(object)

    def run(self, work: Callable[[], object]) -> None:
        """Begin; whatever `work` returns or refuses arrives in the window's thread."""

        def carry_out() -> None:
            found: object
            try:
                found = work()
            except (OSError, ValueError) as refusal:
                found = refusal
            except Exception as defect:  # told like one in the window's own thread; nobody waits for ever
                sys.excepthook(type(defect), defect, defect.__traceback__)
                found = RuntimeError(f"It could not be done ({type(defect).__name__}: {defect}).")
            with contextlib.suppress(RuntimeError):  # the window has been closed meanwhile
                self.done.emit(found)

        threading.Thread(target=carry_out, name="errand", daemon=True).start()
