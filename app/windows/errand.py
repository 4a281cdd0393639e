"""What takes seconds is done beside the window, so that it goes on answering."""

from __future__ import annotations

import contextlib
import queue
import sys
import threading
from collections.abc import Callable

from PySide6.QtCore import QObject, Signal

AT_ONCE_S = 0.05  # nobody feels a wait of so long


class Errand(QObject):
    """One thing that takes seconds, done beside the window. `done` carries what came of it or the refusal."""

    done = Signal(object)

    def run(self, work: Callable[[], object]) -> None:
        """Begin; whatever `work` returns or refuses arrives in the window's thread."""
        self._set_out(lambda: self._bring(_came_of(work)))

    def soon(self, work: Callable[[], object]) -> None:
        """The same for what is mostly there at once: then it has arrived when this returns."""
        box: queue.SimpleQueue[object] = queue.SimpleQueue()
        turn = threading.Lock()
        waited = threading.Event()

        def carry_out() -> None:
            found = _came_of(work)
            with turn:
                if not waited.is_set():
                    box.put(found)
                    return
            self._bring(found)

        self._set_out(carry_out)
        with contextlib.suppress(queue.Empty):
            self.done.emit(box.get(timeout=AT_ONCE_S))
            return
        with turn:
            waited.set()
        with contextlib.suppress(queue.Empty):  # it came between the two
            self.done.emit(box.get_nowait())

    def _bring(self, found: object) -> None:
        with contextlib.suppress(RuntimeError):  # the window has been closed meanwhile
            self.done.emit(found)

    def _set_out(self, carry_out: Callable[[], None]) -> None:
        threading.Thread(target=carry_out, name="errand", daemon=True).start()


def _came_of(work: Callable[[], object]) -> object:
    """What the work returns, or why it does not."""
    try:
        return work()
    except (OSError, ValueError) as refusal:
        return refusal
    except Exception as defect:  # told like one in the window's own thread; nobody waits for ever
        sys.excepthook(type(defect), defect, defect.__traceback__)
        return RuntimeError(f"It could not be done ({type(defect).__name__}: {defect}).")
