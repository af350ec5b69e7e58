"""A stand-in for desk and outboard that can be broken on purpose: recordings made from a known truth."""
