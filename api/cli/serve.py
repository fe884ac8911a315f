"""``witnessmark serve``."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from api.cli.output import clear_errors, emit, json_option
from api.settings import DEFAULT_HOST, DEFAULT_PORT, Settings, refusal
from capture.errors import CaptureError

if TYPE_CHECKING:
    from api.server import Listening


@click.command("serve")
@click.option(
    "--bench",
    type=click.Path(path_type=Path),
    required=True,
    help="The bench.toml that lists this bench's instruments.",
)
@click.option(
    "--store",
    type=click.Path(path_type=Path),
    required=True,
    help="Folder of the ledger; made if it is not there.",
)
@click.option("--host", default=DEFAULT_HOST, show_default=True, help="Address to listen on.")
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=DEFAULT_PORT,
    show_default=True,
    help="Port to listen on; 0 picks a free one.",
)
@click.option("--open", "open_page", is_flag=True, help="Open the bench page in a browser.")
@click.option("--token", help="Access token; needed when other machines can reach --host.")
@click.option(
    "--token-file",
    type=click.Path(path_type=Path),
    help="File that holds the access token (keeps it out of the process list).",
)
@json_option
@clear_errors
def command(
    bench: Path,
    store: Path,
    host: str,
    port: int,
    open_page: bool,
    token: str | None,
    token_file: Path | None,
    as_json: bool,
) -> None:
    """Capture readings, check them, keep the ledger, and show the bench page.

    Prints one line when it listens. Ctrl-C (or SIGTERM) stops it cleanly.

    It records measurements; it does not replace the engine maker's data.
    """
    token = read_token(token, token_file)
    if why := refusal(host, token):
        raise click.UsageError(why)
    if not bench.is_file():
        raise click.BadParameter(
            f"there is no file {bench}. Mend: give the path of a bench.toml; "
            "'witnessmark demo --keep DIR' leaves one to start from.",
            param_hint="--bench",
        )
    settings = Settings(bench, store, host, port, token)

    def ready(listening: Listening) -> None:
        announce(listening, as_json=as_json)
        if open_page:
            import webbrowser

            webbrowser.open(listening.url + (f"/?token={token}" if token else "/"))

    run(settings, ready)


def announce(listening: Listening, *, as_json: bool) -> None:
    """The one line that says where the service is."""
    service = listening.service
    bench, store = service.pipeline.bench, service.settings.store.resolve()
    if as_json:
        emit({"event": "listening", "url": listening.url, "store": str(store), "bench": bench})
    else:
        click.echo(f"listening on {listening.url}  store {store}  bench {bench}")


def run(settings: Settings, ready: Callable[[Listening], None]) -> None:
    """Serves until told to stop."""
    import asyncio
    import gc

    # Nothing that loading makes is garbage, and looking through it again and again is a good part
    # of the start. Once all is loaded, it is set aside for good: no later search has to walk it.
    gc.disable()
    from api.server import serve

    def loaded() -> None:
        gc.freeze()
        gc.enable()

    try:
        asyncio.run(serve(settings, ready=ready, loaded=loaded))
    except KeyboardInterrupt:
        raise SystemExit(130) from None


def read_token(token: str | None, file: Path | None) -> str | None:
    """The token of ``--token`` or ``--token-file``. Raises UsageError and CaptureError."""
    if file is None:
        return token
    if token is not None:
        raise click.UsageError("give --token or --token-file, not both.")
    try:
        return file.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise CaptureError(f"the token file {file} cannot be read: {error}") from None
