"""Text to model and back; strings in, strings out, every mistake with its line."""
