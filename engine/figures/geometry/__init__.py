"""Where things are and how large: pieces, pockets, axes, tool positions. Lengths are mm."""
