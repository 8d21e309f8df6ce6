"""Run a command with `DATABASE_URL` naming a PostgreSQL database made for it.

    python tools/with_postgresql.py command [argument ...]

A `DATABASE_URL` that is set already is used as it is. Else the server comes from the development package pgserver; where
that cannot start, it says why and ends with 0: nothing was run, and the table of the tests says so.
"""

import os
import subprocess
import sys
import tempfile
import warnings


def main(command: list[str]) -> int:
    """The return code of the command."""
    if os.environ.get("DATABASE_URL"):
        return subprocess.call(command)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import pgserver
        folder = tempfile.mkdtemp(prefix="chalaza-pg-")
        server = pgserver.get_server(folder, cleanup_mode="delete")  # type: ignore[attr-defined]
    except Exception as reason:
        print(f"no PostgreSQL here, so nothing was run on it: {reason}")
        return 0
    try:
        return subprocess.call(command, env=os.environ | {"DATABASE_URL": server.get_uri()})
    finally:
        server.cleanup()


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
