"""A roster file in: read it, show what would change, apply it."""
