"""From a show to its line map: what the sound passes through, and how long each part takes."""
