"""`python -m advisor`."""

import sys

from advisor.cli import main

sys.exit(main())
