"""Requests of a run, handed to the worker of the meter that they are about, in that worker's own words."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from drivers.requests import InputsRequest, MeterRequest, PeriodRequest, RangeRequest
from procedures.events import Action, Request, RequestClosed


class Posting(Protocol):
    """Where a refusal goes: back to the run through the inbox."""

    def post(self, item: RequestClosed) -> None:
        """Let it in."""
        ...


class MeterRequests:
    """Translates for one meter; what cannot be translated is refused with the reason."""

    def __init__(self, ask: Callable[[MeterRequest], None], inbox: Posting) -> None:
        self._ask = ask
        self._inbox = inbox

    def request(self, request: Request) -> None:
        """Hand the request to the worker, or refuse it."""
        try:
            translated = _translated(request)
        except (KeyError, ValueError) as error:
            reason = f"the request to {request.action.value} is incomplete: {error}"
            self._inbox.post(RequestClosed(request.at_s, request.id, False, reason))
            return
        if translated is None:
            reason = f"a meter cannot {request.action.value}"
            self._inbox.post(RequestClosed(request.at_s, request.id, False, reason))
            return
        self._ask(translated)


def _translated(request: Request) -> MeterRequest | None:
    given = request.parameters
    match request.action:
        case Action.RANGE:
            return RangeRequest(request.id, float(given["range_volts"]))
        case Action.PERIOD:
            return PeriodRequest(request.id, float(given["period_s"]))
        case Action.CLOSE_CHANNEL:
            return InputsRequest(request.id, (str(given["input"]),))
        case _:
            return None
