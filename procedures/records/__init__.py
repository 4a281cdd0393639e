"""The journal's codec and what a record says when it is folded up. No files."""
