"""What went wrong and when: dropouts, losses, faults, trips, data that came back wrong."""
