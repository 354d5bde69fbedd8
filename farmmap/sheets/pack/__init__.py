"""The pack that a grower sends to a funder: parts that are chosen, one PDF, and the tables behind it."""
