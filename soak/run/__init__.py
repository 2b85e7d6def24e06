"""Run a script on a wired unit: stretches, guard, inbox."""
