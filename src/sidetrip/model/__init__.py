"""What a show is: strict frozen data, no arithmetic beyond validation."""
