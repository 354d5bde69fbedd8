"""Sample plots: where they are laid out, how to walk to them, and how their counts come in."""
