"""What tests of the archive share."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from app.records.archive import Archive
from app.records.archive_place import open_archive


@pytest.fixture
def archive() -> Iterator[Archive]:
    """An archive in memory."""
    opened = open_archive()
    yield opened
    opened.close()
