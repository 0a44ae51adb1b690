"""`python -m api.cli` does what `fineweight` does."""

from api.cli import main

main(prog_name="fineweight")
