"""Who is at the terminal, and what they may do."""
