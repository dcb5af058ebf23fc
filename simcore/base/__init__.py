"""What every other room of the simulator stands on."""
