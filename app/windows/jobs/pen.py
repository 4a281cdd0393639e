"""Writing a job down beside the window, in the order in which it was said; what fails is tried again.

The sheet never waits for a disk and never loses a word: a fact stays in the queue until it is kept. A job
that is new gets its folder with the first thing that is said about it, so that a look at an empty sheet
leaves nothing behind.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from PySide6.QtCore import QObject, QTimer, Signal, Slot

from app.windows.jobs.ports import JobPage, JobShelf
from procedures.job import JobFact

AGAIN_MS = 5000  # between two tries to keep what could not be kept
FILED_MS = 5000  # after the last word until the archive is told
FINISH_S = 12.0  # how long the end waits for a disk that is at it

Deed = Callable[[JobShelf, str], None]


@dataclass(frozen=True, slots=True)
class CustomerSaid:
    """Some of who the customer is."""

    changes: Mapping[str, str]


Item = JobFact | CustomerSaid | Deed


@dataclass(frozen=True, slots=True)
class _Came:
    """What came of a batch: the job as it then stands, or the refusal; both None where nothing is new."""

    batch: tuple[Item, ...]
    key: str
    page: JobPage | None = None
    refusal: Exception | None = None


class JobPen(QObject):
    """Writes to one job. `key` is empty until a new job has its folder."""

    page = Signal(object)  # a JobPage, whenever everything that was said is kept, or others wrote
    trouble = Signal(str)  # why nothing can be kept just now; empty when all is well again
    refused = Signal(str)  # a deed that was not done: a picture, a session
    opened = Signal(str)  # the key of a new job
    _came = Signal()

    def __init__(self, shelf: JobShelf, key: str, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._shelf = shelf
        self.key = key
        self._queue: list[Item] = []
        self._stamp: tuple[int, ...] = ()
        self._result: _Came | None = None
        self._thread: threading.Thread | None = None
        self._troubled = self._unfiled = False
        self._again = self._timer(AGAIN_MS, self._begin)
        self._filing = self._timer(FILED_MS, self._file)
        self._came.connect(self._settle)

    def _timer(self, milliseconds: int, then: Callable[[], None]) -> QTimer:
        timer = QTimer(self)
        timer.setSingleShot(True)
        timer.setInterval(milliseconds)
        timer.timeout.connect(then)
        return timer

    @property
    def pending(self) -> int:
        """How many things that were said are not kept yet."""
        return len(self._queue) + (len(self._result.batch) if self._result else 0)

    @property
    def busy(self) -> bool:
        """Whether something is being written or read now."""
        return self._thread is not None

    # --- saying ---------------------------------------------------------------------------------------

    def write(self, *facts: JobFact) -> None:
        """Write facts down."""
        self._queue.extend(facts)
        self._begin()

    def change_customer(self, **changes: str) -> None:
        """Write down some of who the customer is."""
        self._queue.append(CustomerSaid(changes))
        self._begin()

    def do(self, deed: Deed) -> None:
        """Do something with the job; it is not tried again when it is refused."""
        self._queue.append(deed)
        self._begin()

    @Slot()
    def look(self) -> None:
        """Read the job again if anybody has written to it since."""
        if self.key and self._thread is None and not self._queue:
            self._start(())

    @Slot()
    def _begin(self) -> None:
        if self._thread is None and self._queue:
            self._again.stop()
            self._start(self._take())

    def _take(self) -> tuple[Item, ...]:
        """The next things that can be kept at once: facts together, all else one by one."""
        count = 0
        for item in self._queue:
            if isinstance(item, CustomerSaid) or callable(item):
                break
            count += 1
        batch = tuple(self._queue[: max(1, count)])
        del self._queue[: len(batch)]
        return batch

    def _start(self, batch: tuple[Item, ...]) -> None:
        key, stamp = self.key, self._stamp

        def work() -> None:
            self._result = self._carry_out(batch, key, stamp)
            with contextlib.suppress(RuntimeError):  # the sheet has been closed meanwhile
                self._came.emit()

        self._thread = threading.Thread(target=work, name="job pen", daemon=True)
        self._thread.start()

    # --- beside the window ----------------------------------------------------------------------------

    def _carry_out(self, batch: tuple[Item, ...], key: str, stamp: tuple[int, ...]) -> _Came:
        shelf = self._shelf
        facts = [item for item in batch if not isinstance(item, CustomerSaid) and not callable(item)]
        try:
            if not batch and shelf.stamp(key) == stamp:
                return _Came(batch, key)
            if not key:
                key = shelf.open_new(facts)
                facts = []
            if facts:
                shelf.write(key, facts)
            for item in batch:
                if isinstance(item, CustomerSaid):
                    shelf.change_customer(key, item.changes)
                elif callable(item):
                    item(shelf, key)
        except (OSError, ValueError) as refusal:
            return _Came(batch, key, refusal=refusal)
        try:
            return _Came(batch, key, shelf.page(key))
        except (OSError, ValueError) as refusal:
            return _Came((), key, refusal=refusal)  # it is kept; only reading it again failed

    # --- in the window --------------------------------------------------------------------------------

    @Slot()
    def _settle(self) -> None:
        came, self._result = self._result, None
        if came is None:
            return
        self._thread = None
        if came.key and not self.key:
            self.key = came.key
            self.opened.emit(came.key)
        if came.refusal is not None:
            self._refused(came)
            return
        if came.batch:
            self._unfiled = True
            self._filing.start()
        if self._troubled:
            self._troubled = False
            self.trouble.emit("")
        if self._queue:
            self._begin()
        elif came.page is not None:
            self._stamp = came.page.stamp
            self.page.emit(came.page)

    def _refused(self, came: _Came) -> None:
        words = str(came.refusal)
        if len(came.batch) == 1 and callable(came.batch[0]):
            self.refused.emit(words)
            self._begin()
            return
        self._queue[:0] = came.batch
        self._troubled = True
        self.trouble.emit(words)
        if self._queue:
            self._again.start()

    @Slot()
    def _file(self) -> None:
        self._unfiled = False
        self._shelf.changed()

    def finish(self) -> str:
        """Keep what is left, now; why something could not be kept, or nothing. The pen can go on then."""
        self._again.stop()
        self._filing.stop()
        if self._thread is not None:
            self._thread.join(FINISH_S)
            if self._thread.is_alive():
                return self.tr("The disk has not answered for {n} seconds").format(n=round(FINISH_S))
            self._settle()
            if self._thread is not None:  # what was said meanwhile
                return self.finish()
        self._again.stop()
        self._filing.stop()
        while self._queue:
            batch = self._take()
            came = self._carry_out(batch, self.key, self._stamp)
            if came.refusal is not None and came.batch and not callable(batch[0]):
                self._queue[:0] = batch
                return str(came.refusal)
            self.key = came.key or self.key
            self._unfiled = True
            if came.page is not None and not self._queue:
                self._stamp = came.page.stamp
                self.page.emit(came.page)
        if self._unfiled:
            self._file()
        return ""
