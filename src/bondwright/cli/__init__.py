"""The command line: thin commands over the layers below.

Nothing heavy is imported here; each command imports what it needs when it runs, so that help
appears at once.
"""

from bondwright.cli.main import main

__all__ = ["main"]
