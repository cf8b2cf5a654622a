"""What people see: the screen and the command line. Neither computes."""
