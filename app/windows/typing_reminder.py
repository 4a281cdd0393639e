"""When to ask for the next value of a typed channel: at an interval, quietly, and to be ignored at will."""

from __future__ import annotations

from app.windows.own_questions import last_typed_s, typed_channels
from app.windows.ports import BenchPicture
from app.windows.wording import tr


class TypingReminder:
    """Looks at each picture; says something at most once an interval."""

    def __init__(self) -> None:
        self._newest_s = -1.0
        self._since_s: float | None = None

    def look(self, picture: BenchPicture, now_s: float) -> str:
        """The words to be said now, or none. `now_s` is any clock that does not stand still."""
        typed = [s.channel for s in picture.setups if s.typed]
        if not typed or picture.review or picture.view.ended is not None or picture.ask_every_s <= 0.0:
            return ""
        newest_s = max(last_typed_s(picture, channel) for channel in typed)
        if self._since_s is None or newest_s > self._newest_s:
            self._newest_s, self._since_s = newest_s, now_s
            return ""
        if now_s - self._since_s < picture.ask_every_s:
            return ""
        self._since_s = now_s
        channel = next((name for name in typed_channels(picture) if name in typed), typed[0])
        return tr("{channel}: type what it shows, or Shift+F5: unchanged.").format(
            channel=channel[:1].upper() + channel[1:]
        )
