"""The bench's computer: who may open a device, who holds it, who sets the clock."""
