"""Where sheets and packs are composed on the screen, written and printed."""
