"""What touches the bench: clock, links, meters, sound, and the simulated bench.

Nothing here knows what a procedure is, draws a window or writes a file.
"""
