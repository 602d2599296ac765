"""`python -m thundersheet` is the command `thundersheet`."""

import sys

from thundersheet.cli import main

sys.exit(main())
