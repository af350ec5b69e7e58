"""`python -m sidetrip` is the command `sidetrip`."""

from sidetrip.cli.main import run

run()
