"""How things move and hold: masses, forces, legs, rounds.

Lengths are mm, times s, forces N, masses kg.
"""
