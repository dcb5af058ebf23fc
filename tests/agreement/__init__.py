"""Two engines and a third, slow and obvious implementation must give the same integers."""
