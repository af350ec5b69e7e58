"""Captured audio to facts, one question per file, and facts against the plan."""
