"""Time, draws, records and compiling, which all other packages use."""
