"""From a contact to a logic level: networks, inputs, and the voltages between them."""
