"""Judging rules: one module a rule or a family of them."""
