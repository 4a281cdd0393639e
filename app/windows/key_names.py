"""How a key is called: by one name on caps, in tips and in sentences."""

from __future__ import annotations

import sys

from PySide6.QtGui import QKeySequence


def key_name(keys: str | QKeySequence) -> str:
    """The name of a key, in English; whatever shows it says it in the language in force.

    Qt's own names in another language are not those of the sentences. On macOS keys are signs.
    """
    native = sys.platform == "darwin"
    form = QKeySequence.SequenceFormat.NativeText if native else QKeySequence.SequenceFormat.PortableText
    return QKeySequence(keys).toString(form)
