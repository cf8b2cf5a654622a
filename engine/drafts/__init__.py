"""Pencil: what a person changed and has not inked, and what somebody else did meanwhile."""
