"""Looking a unit up among its earlier visits before a bench is opened, and never waiting long for it."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QCoreApplication, QObject, QTimer, Slot

from app.windows.errand import Errand
from app.windows.paper_ports import Recollection, WarmUps
from app.windows.ports import Workshop

PATIENCE_MS = 1500  # an archive that is far away costs the forecast its memory, and nobody their time


class Recollecting(QObject):
    """Finds how a unit warmed up before, then opens its bench; one at a time.

    `opening` is given what opens a bench and its arguments, what was found last of them.
    """

    def __init__(self, workshop: Workshop, opening: Callable[..., object], parent: QObject) -> None:
        super().__init__(parent)
        self._workshop = workshop
        self._opening = opening
        self._errand: Errand | None = None
        self._then: Callable[[WarmUps], object] | None = None
        self._late = QTimer(self)
        self._late.setSingleShot(True)
        self._late.setInterval(PATIENCE_MS)
        self._late.timeout.connect(self._without)

    def guided(self, amplifier: str, procedure: str, serial: str, job: str = "") -> None:
        """Carry out a procedure on the unit of an amplifier with a serial number, for a job or none."""
        known = self._workshop.amplifier(amplifier)
        look = self._workshop.papers.recollection(known.model if known else "", serial)
        guided = partial(self._workshop.guided, job=job) if job else self._workshop.guided
        self._first(look, partial(self._opening, guided, amplifier, procedure, serial))

    @Slot(str, str, float)
    def simulated(self, unit: str, procedure: str, speed: float) -> None:
        """Practise a procedure on a simulated unit."""
        look = self._workshop.papers.practised(unit)
        self._first(look, partial(self._opening, self._workshop.simulated, unit, procedure, speed))

    def wait_for(self, milliseconds: int) -> None:
        """How long to wait for an answer at the most."""
        self._late.setInterval(milliseconds)

    def _first(self, look: Recollection | None, then: Callable[[WarmUps], object]) -> None:
        """Look, then go on with what was found; at once where there is nothing to look for."""
        if self._then is not None:
            return
        if look is None:
            then(())
            return
        self._then = then
        self._errand = Errand(QCoreApplication.instance())  # it may answer after the window is gone
        self._errand.done.connect(self._found)
        self._errand.done.connect(self._errand.deleteLater)
        self._late.start()
        self._errand.run(look)

    @Slot(object)
    def _found(self, warm_ups: object) -> None:
        if self.sender() is self._errand:
            self._go_on(warm_ups if isinstance(warm_ups, tuple) else ())

    @Slot()
    def _without(self) -> None:
        self._go_on(())

    def _go_on(self, warm_ups: WarmUps) -> None:
        self._late.stop()
        then, self._then, self._errand = self._then, None, None
        if then is not None:
            then(warm_ups)
