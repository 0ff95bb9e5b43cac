"""Run the command line with ``python -m bondwright``."""

from bondwright.cli import main

main()
