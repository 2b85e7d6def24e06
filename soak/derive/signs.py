"""What a meter at a unit reads only where the unit has power, and what it cannot read."""

ON_V = 4.0
"""A USB port of the unit with more than that has power: a little less than the 4.40 V that USB 2.0
lets a low-power port fall to (from memory). Our own choice."""

LEAST_A, LEAST_W = 0.02, 0.1
"""Less than that drawn from its supply may be the probe's own error. Our own choice."""

WARMER_K = 5.0
"""A spot so much over the room, or over its own coolest where nobody measures the room, is warmed
by the unit: a room alone does not swing so far within a soak. Our own choice."""

PORT_SHOWS = ("through", "stood_in")
"""Ways in which a stick at the unit's port is seen only by a unit that runs."""

PLAUSIBLE_DEGC = (-50.0, 300.0)
"""A spot on a unit is within these, as a model sheet's limits must be. What lies outside comes from
a torn or shorted probe: the bench's fault, also where the guard rightly cut the power for it."""
