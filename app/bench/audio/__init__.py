"""Signals on the live bench: requests of the run carried out on a generator and a recorder."""
