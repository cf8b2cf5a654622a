"""Two sides become one: values by address, whole books, the logs of runs. Nothing here asks git."""
