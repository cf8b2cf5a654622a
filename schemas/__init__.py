"""What is written down: models, numbers, units, addresses, TOML in and out.

Nothing here knows git, a screen or a clock; nothing prints. The floor above is
`engine`, which may import from here; this floor imports from nobody.
"""
