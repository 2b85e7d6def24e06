"""What is fixed before a soak begins, as its header keeps it: unit, model, bench, script, figures.

One class for each; files that an operator writes are checked against the same classes.
"""
