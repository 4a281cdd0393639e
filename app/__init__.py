"""What a person meets and what touches the computer: windows, commands, live bench, files, reports."""

__version__ = "0.1.0"
