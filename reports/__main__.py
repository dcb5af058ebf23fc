"""``python -m reports`` is the same as ``steptally``."""

import sys

from reports.cli import main

sys.exit(main())
