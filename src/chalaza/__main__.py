"""`python -m chalaza`: the command line."""

from chalaza.cli.main import main

main(prog_name="chalaza")
