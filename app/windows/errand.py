"""What takes seconds is done beside the window, so that it goes on answering."""

from __future__ import annotations

import contextlib
import queue
import sys
import threading
from collections.abc import Callable
from typing import ClassVar

from PySide6.QtCore import QObject, Signal, Slot

AT_ONCE_S = 0.05  # nobody feels a wait of so long


class _Messenger(QObject):
    """Carries what came of an errand from its thread to the window's.

    Nobody's child: a window may be destroyed at the very moment at which its errand comes back, and a signal
    of something half destroyed ends the program. What is connected to a messenger goes away safely.
    """

    came = Signal(object)
    on_the_way: ClassVar[set[_Messenger]] = set()

    def __init__(self) -> None:
        super().__init__()
        self.came.connect(self.let_go)
        self.on_the_way.add(self)

    @Slot(object)
    def let_go(self, _found: object = None) -> None:
        """It has come or is not needed: gone in the window's thread, where it was made."""
        self.on_the_way.discard(self)


class Errand(QObject):
    """One thing that takes seconds, done beside the window. `done` carries what came of it or the refusal."""

    done = Signal(object)

    def run(self, work: Callable[[], object]) -> None:
        """Begin; whatever `work` returns or refuses arrives in the window's thread."""
        messenger = self._messenger()
        self._set_out(lambda: messenger.came.emit(_came_of(work)))

    def soon(self, work: Callable[[], object]) -> None:
        """The same for what is mostly there at once: then it has arrived when this returns."""
        box: queue.SimpleQueue[object] = queue.SimpleQueue()
        turn = threading.Lock()
        waited = threading.Event()
        messenger = self._messenger()

        def carry_out() -> None:
            found = _came_of(work)
            with turn:
                if not waited.is_set():
                    box.put(found)
                    return
            messenger.came.emit(found)

        self._set_out(carry_out)
        with contextlib.suppress(queue.Empty):
            self._here(messenger, box.get(timeout=AT_ONCE_S))
            return
        with turn:
            waited.set()
        with contextlib.suppress(queue.Empty):  # it came between the two
            self._here(messenger, box.get_nowait())

    def _here(self, messenger: _Messenger, found: object) -> None:
        messenger.let_go()
        self.done.emit(found)

    def _messenger(self) -> _Messenger:
        messenger = _Messenger()
        messenger.came.connect(self._came)
        return messenger

    @Slot(object)
    def _came(self, found: object) -> None:
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
