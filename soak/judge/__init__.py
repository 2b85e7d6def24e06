"""From the journals of one job to findings and a grade; pure functions."""
