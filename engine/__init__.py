"""What follows from what is written down."""
