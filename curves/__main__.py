"""``python -m curves``."""

from curves.cli import main

main()
