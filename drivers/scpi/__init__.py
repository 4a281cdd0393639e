"""SCPI multimeters: the reply parser, dialects and the meter itself."""
