"""``python -m shopsim.cli``: the same as the ``shopsim`` command."""

import sys

from shopsim.cli import main

if __name__ == "__main__":
    sys.exit(main())
