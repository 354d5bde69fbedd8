"""Readers of what people bring: each turns one kind of file into a `Source`.

`reading.read_source` finds out by the content which reader to call.
"""
