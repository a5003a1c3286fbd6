"""bench: opens a scene as a page on this machine, until Ctrl-C."""

import asyncio
import signal
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from pingwright.errors import UnfinishedError


def run(path: Path | None, port: int, *, browser: bool, say: Callable[[str], None]) -> None:
    """Serve the bench until SIGINT or SIGTERM.

    path: a scenario file, or a picture, page or echogram file that holds one; None: the first of ten moments. port:
    0 takes any free one. browser: open the page. say: called once with the address, when the server is ready.
    Raises ScenarioError or EchogramError for a file that cannot be used, UnfinishedError where the port is taken.
    """
    begin = None if path is None else _read(path)
    try:
        asyncio.run(_serve(port, begin, browser, say))
    except OSError as error:
        message = (
            f"Port {port} cannot be used: {error.strerror or error}. Give another port with --port, or leave --port"
            " out."
        )
        raise UnfinishedError(message) from error


def _read(path: Path) -> tuple[str, dict[str, bytes]]:
    if path.suffix.lower() == ".toml":
        from pingwright.inputs import scenario

        read = scenario.load(path)
        return read.text, dict(read.inputs)
    from pingwright.run.recalling import recall

    recalled = recall(path)
    return recalled.scenario, dict(recalled.inputs)


async def _serve(
    port: int, begin: tuple[str, dict[str, bytes]] | None, browser: bool, say: Callable[[str], None]
) -> None:
    from pingwright.bench.server import serve

    ended = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        with suppress(NotImplementedError):  # Windows: Ctrl-C ends the loop by KeyboardInterrupt
            loop.add_signal_handler(number, ended.set)

    def ready(address: str) -> None:
        say(address)
        if browser:
            webbrowser.open(address)

    await serve(port, begin, ready, ended)
