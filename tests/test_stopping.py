"""Ctrl-C and SIGTERM while something is at work that hands no stop on: a compiler, a callback, a library in C."""

import subprocess
import sys

import pytest

PROGRAM = """
import ctypes, hashlib, os, signal, sys, time
from pingwright import __main__, stopping
signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background work ignores it, and so would ours
stopping.PATIENCE_S = 0.3
def stop():
    os.kill(os.getpid(), signal.{how})
    time.sleep(5)
def work(asked):
    {work}
    return 0
__main__.HANDLERS["run"] = work
sys.argv = ["pingwright", "run", "x.toml"]
sys.exit(__main__.command())
"""
WORK = {
    "plain": "stop()",
    "turned into another error": """try: stop()
    except BaseException as error: raise SystemError("returned a result with an exception set") from error""",
    "in a text that is executed": "exec('stop()')",
    "swallowed by a callback": """ctypes.CFUNCTYPE(None)(stop)()
    time.sleep(5)""",
    "in C for a long time": """import threading
    threading.Timer(0.1, os.kill, (os.getpid(), signal.{how})).start()
    hashlib.pbkdf2_hmac("sha256", b"", b"", 10**8)""",
    "while processes are at work": """import threading
    from pingwright import workers
    stopping.PATIENCE_S = 5.0
    def later():
        time.sleep(0.5)
        os.killpg(os.getpgid(0), signal.{how}) if "{how}" == "SIGINT" else os.kill(os.getpid(), signal.{how})
    threading.Thread(target=later, daemon=True).start()
    with workers.team(None, 2) as team:
        list(team.map(time.sleep, [60.0] * 4))""",
}


@pytest.mark.parametrize("how", ["SIGINT", "SIGTERM"])
@pytest.mark.parametrize("work", WORK.values(), ids=WORK)
def test_a_stop_is_a_stop(work, how):
    code = PROGRAM.format(how=how, work=work.replace("{how}", how))
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=50, process_group=0
    )
    assert (done.returncode, done.stdout) == (3, ""), done.stderr
    (one,) = done.stderr.splitlines()
    assert one.startswith("pingwright: Stopped before the end")
    assert one.endswith("the same command with --resume continues.")


def test_an_ignored_interrupt_stays_ignored():
    code = PROGRAM.format(how="SIGINT", work="os.kill(os.getpid(), signal.SIGINT)")
    code = code.replace("signal.default_int_handler", "signal.SIG_IGN")
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0


def test_after_the_end_nothing_stops_any_more():
    code = PROGRAM.format(how="SIGTERM", work="pass").replace(
        "sys.exit(__main__.command())",
        "status = __main__.command(); os.kill(os.getpid(), signal.SIGTERM); sys.exit(status)",
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0


def test_a_stop_while_the_program_gets_ready_is_told_in_one_line():
    program = PROGRAM.format(how="SIGTERM", work="pass").replace(
        "sys.argv =", "__main__.startup.leave_for_later = stop\nsys.argv ="
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 3
    assert done.stderr == "pingwright: Stopped before any work began.\n"


def test_a_slow_end_does_not_say_the_same_twice():
    """The main thread has said it and is still at something when the watching thread ends the process."""
    program = PROGRAM.format(how="SIGINT", work="stop()").replace(
        "sys.argv =", "__main__.gc.collect = slow\nsys.argv ="
    )
    slow = "def slow(*_):\n    time.sleep(5)\n__main__.HANDLERS"
    done = subprocess.run(
        [sys.executable, "-c", program.replace("__main__.HANDLERS", slow, 1)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 3
    assert len(done.stderr.splitlines()) == 1
