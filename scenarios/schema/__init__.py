"""What a scenario may say, made from the kinds' own descriptions."""
