"""The simulator: shaft, contacts, stages, counter, verdicts, tallies.

Reads no file and prints nothing.  Every time inside is a whole number of
picoseconds (see :mod:`simcore.base.ticks`), every draw is addressed (see
:mod:`simcore.base.draws`), and every rule is a plain Python function that the batch
engine compiles and the event engine calls (see :mod:`simcore.base.compiling`).
"""

MODEL_VERSION = "3"
"""Raised whenever the same scenario and seed would give other integers."""
