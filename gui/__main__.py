"""What does ``python -m strokewise.gui`` do? The same as the command ``strokewise``."""

import sys

from strokewise.gui.cli import main

if __name__ == "__main__":
    sys.exit(main())
