"""What a report about one visit says, folded from the record alone: facts in, facts out."""
