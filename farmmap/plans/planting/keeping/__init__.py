"""Plans kept on the farm, taken into it, and handed on."""
