"""`chalaza work`: the worker, as `serve` starts it: reads logs and does other slow work until its standard input closes."""

import click


@click.command("work", hidden=True, short_help="Slow work, for a notebook that is served (started by itself).")
def command() -> None:
    """Do the slow work of the notebook until standard input closes.

    `chalaza serve` starts this by itself; you need not.
    """
    from chalaza.records.notebook import open_records

    open_records()
    from chalaza.worker.loop import main

    main()
