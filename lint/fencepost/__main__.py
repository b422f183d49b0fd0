"""`python -m fencepost`."""

from fencepost.cli import main

main()
