"""Records on disk: journals, session folders, exports."""
