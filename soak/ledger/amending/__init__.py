"""What was entered wrongly: corrections, what was withdrawn, and what holds since."""
