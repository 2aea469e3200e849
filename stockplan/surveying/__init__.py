"""From what was measured to the outline of a lawn."""
