"""Many tabs that send floods of changes to a bench: each gets its last answer, and memory stays steady.

    python benchmarks/bench_flood.py [--changes 200] [--rounds 3]

Opens as many tabs as the bench serves and one more, which must be turned away. In each round every tab sends changes of
the depth as fast as the channel takes them, among them words that are no message and a value that is refused. Expected:
the answer to each tab's last change comes, with the depth that it set; a message that is too long closes its own tab
alone; the titles of a hostile scene come back as text; the memory of the process grows by less than 100 MiB from the
second round to the last. Exit status 1 on any failure.
"""

import argparse
import asyncio
import json
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT / "simulator"), str(ROOT / "tests")]

import tornado.httpclient  # noqa: E402
import tornado.websocket  # noqa: E402
from pingwright.bench import server as bench  # noqa: E402
from tiny_scenarios import LAKE  # noqa: E402

TITLE = '<img src=x onerror=alert(1)> \\" & {{ }}'
SCENE = LAKE.replace("A lake nine metres deep", TITLE).replace("pings = 40", "pings = 4")
LONGEST_S, MOST_MIB = 300.0, 100.0


def resident() -> float:
    """Return the memory [MiB] that this process holds."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return int(next(line.split()[1] for line in lines if line.startswith("VmRSS"))) / 1024


async def opened(server: bench.Server) -> Any:
    """Return the channel of a new tab."""
    own = f"http://127.0.0.1:{server.port}"
    address = f"ws://127.0.0.1:{server.port}/{server.token}/live"
    request = tornado.httpclient.HTTPRequest(address, headers={"Origin": own})
    return await tornado.websocket.websocket_connect(request, max_message_size=64 << 20)


async def last_answer(channel: Any, serial: int) -> dict[str, Any]:
    """Return the answer with pictures to the message of a serial number."""
    while (text := await channel.read_message()) is not None:
        answer: dict[str, Any] = json.loads(text)
        if answer.get("serial") == serial and answer["kind"] != "refused":
            return answer
    message = "the tab was closed"
    raise RuntimeError(message)


async def flood(channel: Any, tab: int, changes: int, first: int) -> str:
    """Send many changes at once; return what was wrong with the last answer, "" if nothing was."""
    await channel.write_message('{"do": "units", "units": "m"}')
    for number in range(changes):
        metres = round(6 + 0.1 * tab + 0.01 * (number % 100), 2)
        depth = f"{metres} m"
        await channel.write_message(
            json.dumps({"do": "change", "set": {"seabed.depth": depth}, "serial": first + number})
        )
        if number % 50 == 7:
            await channel.write_message("no message")
            await channel.write_message('{"do": "change", "set": {"seabed.depth": "-3 m"}}')
    try:
        answer = await asyncio.wait_for(last_answer(channel, first + changes - 1), LONGEST_S)
    except (TimeoutError, RuntimeError) as error:
        return f"tab {tab}: no last answer ({error!r})"
    sliders = {one["key"]: one for one in answer["knobs"]["sliders"]}
    read = sliders["seabed.depth"]["value"]
    return "" if abs(read - metres) < 0.005 else f"tab {tab}: depth {read}, last set: {metres} m"


async def attacked(changes: int, rounds: int) -> list[str]:
    """Return what was wrong."""
    server, wrong, held = bench.Server(0, (SCENE, {})), [], []
    tabs = [await opened(server) for _ in range(bench.TABS)]
    one_more = await opened(server)
    if await one_more.read_message() is not None:
        wrong.append("one tab too many was served")
    for number in range(rounds):
        begin = time.monotonic()
        found = await asyncio.gather(*(flood(c, k, changes, 1 + number * changes) for k, c in enumerate(tabs)))
        wrong += [line for line in found if line]
        held.append(resident())
        print(
            f"round {number + 1}: {len(wrong)} wrong, {time.monotonic() - begin:.1f} s, {held[-1]:.0f} MiB", flush=True
        )
    with suppress(tornado.websocket.WebSocketClosedError):
        await tabs[0].write_message("x" * (bench.LONGEST + 1))
    while await tabs[0].read_message() is not None:
        pass
    await tabs[1].write_message(json.dumps({"do": "units", "units": "ft", "serial": 10**6}))
    answer = await asyncio.wait_for(last_answer(tabs[1], 10**6), LONGEST_S)
    print(f"after a message that is too long: tab 1 closed, tab 2 answers {answer['kind']}")
    if held[-1] - held[min(1, len(held) - 1)] > MOST_MIB:
        wrong.append(f"memory grows: {held}")
    await server.stop()
    return wrong


def main() -> int:
    """Report."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--changes", type=int, default=200)
    parser.add_argument("--rounds", type=int, default=3)
    asked = parser.parse_args()
    wrong = asyncio.run(attacked(asked.changes, asked.rounds))
    print("\n".join(wrong) or "no failures")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
