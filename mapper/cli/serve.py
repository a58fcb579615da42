"""`mapper serve`: the page at the wing, for this machine's browser."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from mapper.cli.desk import Folder
from mapper.cli.main import app


@app.command("serve")
def serve(
    shop: Folder = None,
    port: Annotated[
        int,
        typer.Option("--port", help="Keep it: what waits unsent in a browser belongs to its port."),
    ] = 8717,
    host: Annotated[
        str, typer.Option("--host", help="An address of this machine that others cannot reach.")
    ] = "127.0.0.1",
) -> None:
    """Serve the page at the wing: paint and log on the true shape, with or without a network.

    It ends with Ctrl-C. Several people may record at once; the command line may go on meanwhile.
    """
    from mapper.viewer.serve import serve as run

    run(
        shop or Path(),
        host=host,
        port=port,
        ready=lambda address: print(f"The page is at {address} (Ctrl-C ends it)", flush=True),
    )
