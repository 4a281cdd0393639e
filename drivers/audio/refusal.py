"""The one error of the audio paths."""


class AudioRefused(ValueError):
    """A device, file or connection cannot be used; the message is one sentence that says what to do."""
