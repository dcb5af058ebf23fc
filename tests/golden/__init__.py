"""What every verb gave before the house was rebuilt, kept as digests and held against what it gives today."""
