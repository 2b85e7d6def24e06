"""Judging rules, one file for one rule or a few that belong together; found by a scan."""
