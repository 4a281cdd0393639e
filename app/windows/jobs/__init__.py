"""The job sheet in the window: a visit's facts written down in place, beside the measuring."""
