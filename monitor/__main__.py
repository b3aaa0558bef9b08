"""``python -m monitor`` is the command ``cormwatch``."""

import sys

from monitor.cli import main

sys.exit(main())
