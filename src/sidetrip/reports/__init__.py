"""Results to paper and text: each sheet a function from a plan to data, its template beside it."""
