"""The one error of the audio paths."""


class AudioRefused(Exception):
    """A device, file or connection cannot be used; the message is one sentence that says what to do."""
