"""What signals do on the board: traces and how they join, what they run over, where they change layer."""
