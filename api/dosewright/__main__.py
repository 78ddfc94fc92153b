"""``python -m dosewright``."""

import sys

from dosewright.cli import main

sys.exit(main())
