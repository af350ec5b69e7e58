"""Use cases: the world on one side, the pure computations on the other."""
