"""python -m layoutdesk.commandline."""

import sys

from . import main

sys.exit(main())
