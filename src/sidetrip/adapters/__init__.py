"""One file for each thing outside: files, the clock, the press. Nothing here decides."""
