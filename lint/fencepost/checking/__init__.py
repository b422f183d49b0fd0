"""Rules from the outside: what one is, what it yields, where it is found, how it is run."""
