"""Soak units for the operator: from the orders to the seal, the grade and the report."""
