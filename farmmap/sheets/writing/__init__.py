"""Files that pages are written to."""
