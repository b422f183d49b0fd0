"""What a fabricator must drill, plate and etch: holes as drilled, rings, walls between holes, distances to copper."""
