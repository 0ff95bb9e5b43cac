"""A second opinion on a plan, by simpler means and by code of its own.

It reads what a plan says stands there (lengths, sizes, joins, devices as they are written) and
asks three things of every piece of metal: does a line that touches it trip something in time, do
the conductors bear it, and is there a metal way back at all. Nothing in here imports the code that
is judged: currents come from a plain nodal solve with handbook impedances, opening times from an
own reading of each device's words, sizes from the tables under ``tests/reference``.
"""
