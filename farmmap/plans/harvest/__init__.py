"""Harvest: stem volumes, what stems are cut into, when they are ready, what they bring and the carbon they hold."""
