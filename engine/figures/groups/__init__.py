"""One module for each group of figures: what it declares, and how it is judged."""
