"""`python -m bridge.cli` is the command `witnessmark`."""

from bridge.cli.main import run

run()
