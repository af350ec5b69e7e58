"""Sound as arrays: frames for time, linear gain for level. Knows nothing of shows."""
