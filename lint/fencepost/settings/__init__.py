"""fencepost.toml: its shape, and how it is found and read."""
