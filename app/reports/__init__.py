"""Pictures and papers made from a record."""
