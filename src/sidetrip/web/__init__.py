"""The page: one local page in the browser, all of it from this package."""
