"""Files that are dropped on a screen."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtGui import QDragEnterEvent, QDropEvent


def dropped_files(event: QDropEvent | QDragEnterEvent) -> list[Path]:
    """The files that are being dropped; of a folder, the data files in it."""
    found: list[Path] = []
    for url in event.mimeData().urls():
        path = Path(url.toLocalFile())
        if url.isLocalFile():
            found += sorted(path.glob("*.toml")) if path.is_dir() else [path]
    return found
