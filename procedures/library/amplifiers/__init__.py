"""Invented amplifiers, as examples of the file format and for practice."""
