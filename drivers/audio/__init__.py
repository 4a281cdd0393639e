"""Signals into and out of an amplifier: sound devices, generators, digitisers, files."""
