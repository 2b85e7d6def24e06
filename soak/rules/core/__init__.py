"""What all rules share: what a rule is, what a finding is."""
