"""The procedures and amplifier examples that ship, as TOML."""
