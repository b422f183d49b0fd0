"""What a run has read or found, kept for the next one, under keys that change with everything it depends on."""
