"""Reader for The Gerber Layer Format."""

from fencepost.readers.gerber.reader import read_gerber

__all__ = ["read_gerber"]
