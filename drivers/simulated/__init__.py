"""The simulated bench: amplifier physics, units, instruments and their servers."""
