"""The farm file, bringing data in, and checking what is there.

Knows farm/ only; figures and files do not know each other.
"""
