"""Lines of an instrument that talks by itself: the newest whole one counts, and half a line is none."""

from __future__ import annotations

from drivers.clock import host_seconds
from drivers.errors import LinkTimedOut
from drivers.links.line import LineLink


class Talking(LineLink):
    """Each piece arrives when the link looks for more; `...` stands for nothing within the time."""

    def __init__(self, pieces: list[bytes], line_limit: int = 65_536) -> None:
        super().__init__("talks", line_limit=line_limit)
        self.pieces = pieces

    def open(self, deadline: float) -> None: ...

    def close(self) -> None: ...

    def _need_open(self) -> None: ...

    def _push(self, data: bytes, deadline: float) -> None: ...

    def _receive(self) -> int:
        if not self.pieces or self.pieces[0] == b"...":
            return 0
        return self._keep(self.pieces.pop(0))

    def _wait(self, deadline: float, sentence: str) -> None:
        if self.pieces and self.pieces[0] == b"...":
            self.pieces.pop(0)
            return
        if not self.pieces:
            raise LinkTimedOut(self.address, sentence)


def newest(link: Talking) -> bytes:
    return link.next_line(host_seconds() + 5.0).raw


def test_after_a_long_silence_of_the_reader_the_newest_line_counts() -> None:
    """However much has come meanwhile: an old line would be taken for the present."""
    lines = [b"%d\n" % number * 50 for number in range(1000)]
    assert newest(Talking(lines, line_limit=4096)) == b"999"


def test_the_rest_of_a_line_that_was_forgotten_is_no_line() -> None:
    """13.4 of which 1 was forgotten would be read as 3.4."""
    link = Talking([b"12.9\n1", b"...", b"3.4\n", b"13.5\n"])
    assert newest(link) == b"12.9"
    link.drop_received()
    assert newest(link) == b"13.5"


def test_a_whole_line_that_was_forgotten_costs_no_other() -> None:
    link = Talking([b"12.9\n", b"..."])
    link.drop_received()
    link.pieces.append(b"13.5\n")
    assert newest(link) == b"13.5"


def test_a_line_is_not_lost_for_the_half_behind_a_blank_one() -> None:
    """The next one has begun and does not end in time: the one before it is there all the same."""
    assert newest(Talking([b"13.4\n\n13."])) == b"13.4"
