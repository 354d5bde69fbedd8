"""Where each plant stands, and which plant it is."""
