"""Fields, waves and currents: pure functions of numbers. No board, no file, no settings in here."""
