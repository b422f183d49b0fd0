"""Where ground vias that are missing may legally go, and what is in the way where none may."""
