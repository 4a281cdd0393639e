"""Qt screens and theme."""
