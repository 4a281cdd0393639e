"""What the work is: steps, decisions, computations and the meaning of a record.

Pure: no files, no clock, no Qt, no instruments. Importing it needs none of them.
"""
