"""What each part of the page says, as data for its template."""
