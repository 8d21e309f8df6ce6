"""From readings to beliefs: exposure, one joint fit, and what each of the four questions reads off it."""
