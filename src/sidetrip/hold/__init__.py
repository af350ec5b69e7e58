"""Will it hold: round trips, evidence of block times, and the buffer that both allow."""
