"""The first line of a session: everything that decides, as the bench was put together."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from app import __version__
from app.records.session_folder import new_session_id
from procedures.records.journal import Header
from procedures.replay import setup_entry
from procedures.setup import RunSetup


def header_of(
    setup: RunSetup,
    started_utc: datetime,
    unit: str = "",
    session: str = "",
    *,
    meters: Mapping[str, str] | None = None,
    ways: Mapping[str, Mapping[str, str]] | None = None,
) -> Header:
    """The header of a new session; `session` is its identifier, random unless given.

    `meters` are the addresses of the real meters by their names, `ways` how they are spoken to.
    """
    return Header(
        session=session or new_session_id(),
        started_utc=started_utc,
        setup=setup_entry(setup),
        rules=setup.rules,
        program=f"Warmtrim {__version__}",
        title=setup.procedure.title,
        unit=unit,
        practice=setup.practice,
        meters=meters or {},
        ways=ways or {},
    )
