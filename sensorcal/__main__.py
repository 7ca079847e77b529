"""Run the command line with `python -m sensorcal`, the form that needs no activated environment."""

from __future__ import annotations

import sys

from sensorcal.cli.main import main

sys.exit(main())
