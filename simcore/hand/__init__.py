"""What turns: gestures, the laws of motion, the encoder's angles and its shaft."""
