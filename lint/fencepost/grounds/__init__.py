"""The ground copper of a board: its areas, what ties them, and where ties are missing."""
