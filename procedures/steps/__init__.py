"""One file a step kind."""
