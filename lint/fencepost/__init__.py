"""fencepost: does the ground of a printed circuit board hold? Answered from its fabrication data."""

from fencepost._version import VERSION as __version__

__all__ = ["__version__"]
