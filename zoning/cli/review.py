"""``zoning review``: go through the pits of a field before and after the work, in a browser."""

from __future__ import annotations

from pathlib import Path

import click

from zoning.cli.guard import refusing


@click.command("review", epilog="Example: zoning review sample_data/teasel_piece")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--plan", type=click.Path(path_type=Path), help="Plan folder; default FOLDER/plan.")
@click.option(
    "--port", type=click.IntRange(0, 65535), metavar="N", help="Port; default 8765, 0: any free."
)
@click.option(
    "--listen",
    metavar="ADDRESS",
    default="127.0.0.1",
    show_default=True,
    help="Address of this computer to listen on; any other than the default asks for a code.",
)
@refusing
def command(*, folder: Path, plan: Path | None, port: int | None, listen: str) -> None:
    """Show the map and the season record of FOLDER in a browser, and take in pits and photos.

    The page works with the network unplugged. What is saved goes into FOLDER/records.gpkg. Stop
    it with Ctrl-C.
    """
    from zoning import review
    from zoning.errors import printable

    address = review.listening(listen, port)
    desk = review.open_desk(folder, plan_folder=plan)
    desk.code = address.new_code()
    server = review.serve(review.make_app(desk, address.names), address)
    for notice in desk.notices:
        click.echo(printable(f"{notice.level.capitalize()}: {notice.text}"), err=True)
    host = f"[{address.host}]" if ":" in address.host else address.host
    click.echo(f"{printable(desk.name)}: http://{host}:{server.effective_port}/")
    if desk.code:
        click.echo(
            "This opens the page to the network: whoever reaches this address and has the code "
            f"can read, add and correct the pits and photos of this field.\nCode: {desk.code}\n"
            "What is sent is not encrypted; use a network that you trust."
        )
    click.echo("Stop with Ctrl-C.")
    try:
        server.run()
    finally:
        server.close()
