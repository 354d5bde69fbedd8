"""The farm on a page of paper."""
