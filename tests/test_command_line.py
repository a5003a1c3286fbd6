"""The command line as a user meets it: in a process of its own where a process matters, else called as it is."""

import contextlib
import io
import json
import os
import pty
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from pingwright import __main__ as command
from pingwright.errors import EchogramError, Fault, ScenarioError, UnfinishedError
from pingwright.inputs import scenario
from pingwright.recording import prepare
from pingwright.run import pipeline
from tiny_scenarios import LAKE

ROOT = Path(command.__file__).parents[2]
SET = ["compare.html", "compare.png", "echograms.h5", "summary.json", "summary.md"]
COMMANDS = ("run", "draw", "check", "new", "list", "claims", "match", "recall")


def pingwright(*arguments, cwd=None, **more):
    environment = os.environ | {"PYTHONPATH": str(ROOT / "simulator")} | more.pop("env", {})
    line = [sys.executable, "-m", "pingwright", *map(str, arguments)]
    return subprocess.run(line, capture_output=True, text=True, cwd=cwd, env=environment, check=False, **more)


def called(*arguments, cwd="."):
    """The same command, called in this process: what it prints, and the status it would end with."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.chdir(cwd), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        status = command.main([str(one) for one in arguments])
    return subprocess.CompletedProcess(arguments, status, out.getvalue(), err.getvalue())


@pytest.fixture(scope="module")
def ran(tmp_path_factory):
    folder = tmp_path_factory.mktemp("ran")
    (folder / "lake.toml").write_text(LAKE)
    # Without a home to write to, no cache of fonts or machine code may complain on the screen.
    nowhere = dict.fromkeys(("HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME"), "/proc/none")
    done = pingwright("run", "lake.toml", cwd=folder, env=nowhere)
    assert done.returncode == 0, done.stderr
    return folder, done


def test_run_writes_the_set_and_says_where(ran):
    folder, done = ran
    assert sorted(os.listdir(folder / "out" / "lake")) == SET
    lines = done.stdout.splitlines()
    assert "narrow high" in lines[0]
    assert [Path(line).name for line in lines[1:]] == [
        "echograms.h5",
        "compare.png",
        "compare.html",
        "summary.md",
        "summary.json",
    ]
    assert done.stderr == "", "no progress where standard error is no terminal, and no warning"


def test_draw_works_from_the_file_alone(ran, tmp_path):
    folder, _ = ran
    done = called("draw", folder / "out/lake/echograms.h5", "--out", tmp_path / "again", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    for name in SET:
        assert (tmp_path / "again" / name).read_bytes() == (folder / "out/lake" / name).read_bytes(), name


def test_draw_in_place_needs_no_copy(ran, tmp_path):
    folder, _ = ran
    (tmp_path / "echograms.h5").write_bytes((folder / "out/lake/echograms.h5").read_bytes())
    before = (tmp_path / "echograms.h5").stat().st_ino
    assert called("draw", "echograms.h5", cwd=tmp_path).returncode == 0
    assert sorted(os.listdir(tmp_path)) == SET
    assert (tmp_path / "echograms.h5").stat().st_ino == before


@pytest.mark.parametrize("name", ["compare.png", "compare.html", "echograms.h5"])
def test_recall_prints_the_scenario(ran, name):
    folder, _ = ran
    done = called("recall", folder / "out/lake" / name)
    assert (done.returncode, done.stdout, done.stderr) == (0, LAKE, "")


def test_check_says_size_memory_and_time_and_knows_a_whole_set(ran):
    folder, _ = ran
    done = called("check", "lake.toml", cwd=folder)
    assert done.returncode == 0
    for word in ("disk", "memory", "time"):
        assert f"{word}: " in done.stdout
    assert "pulse: narrow high 0.5 ms, low 0.5 ms\n" in done.stdout
    assert "complete set" in called("check", "out/lake/summary.json", cwd=folder).stdout
    assert "complete file" in called("check", "out/lake/echograms.h5", cwd=folder).stdout


def test_the_estimated_size_is_that_of_the_whole_set(ran):
    from pingwright.run.estimate import estimate

    folder, _ = ran
    needed = estimate(prepare(scenario.load(folder / "lake.toml")))
    assert needed.file == pytest.approx(sum(file.stat().st_size for file in (folder / "out/lake").iterdir()), rel=0.5)


def test_another_seed_is_another_recording_and_is_recalled(ran, tmp_path):
    folder, _ = ran
    line = ["run", folder / "lake.toml", "--seed", 4, "--no-pictures", "--out", tmp_path / "o"]
    assert called(*line).returncode == 0
    recalled = called("recall", tmp_path / "o/echograms.h5").stdout
    assert recalled == LAKE.replace("seed = 3", "seed = 4")
    from pingwright.echograms.file import read

    for a, b in zip(
        read(tmp_path / "o/echograms.h5").elements, read(folder / "out/lake/echograms.h5").elements, strict=True
    ):
        assert (a.echo_level[:] != b.echo_level[:]).mean() > 0.5


def test_a_second_run_replaces_and_leaves_other_files(ran):
    folder, _ = ran
    out = folder / "out/lake"
    before = {name: (out / name).read_bytes() for name in SET}
    (out / "notes.txt").write_text("mine")
    done = called("run", "lake.toml", "--threads", 1, cwd=folder)
    assert done.returncode == 0, done.stderr
    assert (out / "notes.txt").read_text() == "mine"
    (out / "notes.txt").unlink()
    assert {name: (out / name).read_bytes() for name in SET} == before


def test_help_names_every_command_and_each_gives_an_example():
    done = called("--help")
    assert done.returncode == 0
    for name in COMMANDS:
        assert name in done.stdout
        assert f"pingwright {name}" in called(name, "--help").stdout.split("example: ")[1]


def test_version():
    done = pingwright("--version")
    assert done.returncode == 0
    assert done.stdout.startswith("pingwright ")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["bogus"], "nknown command"),
        (["run"], "required"),
        (["run", "x.toml", "--threads", "0"], "from 1 to 1024"),
        (["run", "x.toml", "--seed", "-1"], "2^63"),
        (["run", "x.toml", "--seed", str(2**63)], "2^63"),
        (["run", "none.toml"], "none.toml"),
        (["ask", "x" * 300], "255 bytes"),
        (["draw", "none.h5"], "does not exist"),
        (["recall", "none.png"], "does not exist"),
        (["check", "none.toml"], "none.toml"),
        (["list", "elemnts"], "elements"),
        (["new", "there.toml"], "already exists"),
        (["run", "bad.toml"], "bad.toml"),
        (["draw", "bad.toml"], "not a complete HDF5"),
        (["recall", "bad.toml"], "no scenario"),
        (["claims", "bad.toml"], "bad.toml"),
        (["match", "bad.toml"], "bad.toml"),
    ],
)
def test_wrong_input_is_status_2_and_no_traceback(tmp_path, arguments, said):
    (tmp_path / "there.toml").write_text("mine")
    (tmp_path / "bad.toml").write_text("title = [\n")
    done = called(*arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert said in done.stderr
    assert done.stderr.startswith("pingwright: ")
    assert "Traceback" not in done.stderr
    assert sorted(os.listdir(tmp_path)) == ["bad.toml", "there.toml"]


def test_new_writes_a_scenario_that_checks(tmp_path):
    assert called("new", "mine.toml", cwd=tmp_path).stdout == "mine.toml\n"
    assert (tmp_path / "mine.toml").read_text().lstrip().startswith("#")
    done = called("check", "mine.toml", cwd=tmp_path)
    assert done.returncode == 0, done.stderr


def test_list_as_table_and_as_data():
    done = called("list", "sediments")
    assert "gravel" in done.stdout
    everything = json.loads(called("list", "--json").stdout)
    assert {"elements", "sediments", "fish"} <= set(everything)
    assert {"high-pencil", "medium-pencil", "low-pencil"} <= set(everything["elements"])


def test_a_closed_pipe_is_no_fault():
    line = [sys.executable, "-m", "pingwright", "list", "sediments", "--json"]
    process = subprocess.Popen(line, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=ROOT)
    process.stdout.close()
    assert process.stderr.read() == b""
    process.stderr.close()
    assert process.wait() == 0


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (ScenarioError([Fault("a.toml", 3, "water", "is missing")]), 2),
        (EchogramError("a.h5 is damaged."), 2),
        (UnfinishedError("The disk is full."), 3),
        (KeyboardInterrupt(), 3),
        (MemoryError(), 3),
        (RuntimeError("oops"), 4),
        (ValueError("oops"), 4),
    ],
)
@pytest.mark.parametrize("debug", [False, True])
def test_exit_status_and_one_paragraph(monkeypatch, capsys, tmp_path, error, status, debug):
    def fails(*_, **__):
        raise error

    monkeypatch.setattr(pipeline, "run", fails)
    monkeypatch.setenv("TMPDIR", str(tmp_path))
    monkeypatch.setattr("tempfile.tempdir", None)
    assert command.main([*(["--debug"] if debug else []), "run", "a.toml"]) == status
    out, err = capsys.readouterr()
    assert out == ""
    assert ("Traceback" in err) == debug
    assert "\n\n" not in err.strip()
    if status == 4:
        (log,) = tmp_path.glob("pingwright-fault-*.log")
        assert str(log) in err
        assert "oops" in log.read_text()


def test_a_fault_of_ours_is_told_where_no_log_can_be_written(monkeypatch, capsys):
    broken, full = RuntimeError("oops"), OSError(28, "full")

    def fails(*_, **__):
        raise broken

    def refuses(*_, **__):
        raise full

    monkeypatch.setattr(pipeline, "run", fails)
    monkeypatch.setattr("tempfile.NamedTemporaryFile", refuses)
    assert command.main(["run", "a.toml"]) == 4
    assert "repeat the command with --debug to see them" in capsys.readouterr().err


def test_nothing_asked_is_answered_with_help_and_an_early_stop_in_words(monkeypatch, capsys):
    assert command.main([]) == 0
    assert "usage: pingwright" in capsys.readouterr().out

    def stops(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "handled", stops)
    assert command.main(["run", "a.toml"]) == 3
    assert capsys.readouterr().err == "pingwright: Stopped before any work began.\n"


def test_faults_are_counted_and_threads_are_a_whole_number(tmp_path, capsys):
    (tmp_path / "bad.toml").write_text(LAKE.replace("[boat]", "[boot]", 1).replace("[[element]]", "[[elemend]]"))
    assert command.main(["check", str(tmp_path / "bad.toml")]) == 2
    err = capsys.readouterr().err
    assert " errors:\n" in err
    for words in ("0", "-3", "two", "1.5", "9999"):
        assert command.main(["check", "a.toml", "--threads", words]) == 2
        assert "is not a whole number from 1 to 1024" in capsys.readouterr().err


def test_quiet_says_results_only(monkeypatch, capsys):
    results = pipeline.Results(Path("o"), ("compare.png",), "narrow parts 3 of 4 fish.", ("a short interval",))
    monkeypatch.setattr(pipeline, "run", lambda *_, **__: results)
    assert command.main(["run", "a.toml"]) == 0
    out, err = capsys.readouterr()
    assert out == "narrow parts 3 of 4 fish.\no/compare.png\n"
    assert err == "pingwright: note: a short interval\n"
    assert command.main(["run", "a.toml", "--quiet"]) == 0
    assert capsys.readouterr() == (out, "")


def test_interrupted_and_resumed_it_ends_in_the_same_arrays(ran, tmp_path):
    """Ctrl-C in the middle: status 3, nothing half-written; a folder in use is refused; --resume ends right."""
    text = LAKE.replace("pings = 40", "pings = 96")
    (tmp_path / "lake.toml").write_text(text)
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background work ignores it, and so would ours
    line = [sys.executable, "-m", "pingwright", "run", "lake.toml", "--no-pictures", "--out", "o"]
    process = subprocess.Popen(
        line, cwd=tmp_path, env=os.environ | {"PYTHONPATH": str(ROOT / "simulator")}, stderr=subprocess.PIPE, text=True
    )
    journal = tmp_path / "o" / ".pingwright-part.echograms.h5.journal"
    for _ in range(30000):
        if journal.exists() and journal.read_text().count("\n") > 2:
            break
        time.sleep(0.002)
    process.send_signal(signal.SIGSTOP)
    second = called("run", "lake.toml", "--out", "o", cwd=tmp_path)
    assert second.returncode == 3
    assert "Another run" in second.stderr
    process.send_signal(signal.SIGINT)
    process.send_signal(signal.SIGCONT)
    said = process.communicate()[1]
    assert process.returncode == 3, said
    assert "--resume" in said
    assert "Traceback" not in said
    assert not (tmp_path / "o" / "echograms.h5").exists()
    done = called("run", "lake.toml", "--no-pictures", "--out", "o", "--resume", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    (tmp_path / "whole").mkdir()
    history = "simulated by pingwright from lake.toml"
    pipeline.simulate_to(tmp_path / "whole/echograms.h5", prepare(scenario.parse(text, "", {}), history=history))
    assert (tmp_path / "o/echograms.h5").read_bytes() == (tmp_path / "whole/echograms.h5").read_bytes()
    assert sorted(os.listdir(tmp_path / "o")) == ["echograms.h5", "summary.json", "summary.md"]


def test_a_run_too_large_is_refused_unless_forced(tmp_path, monkeypatch):
    from pingwright import costs as estimate

    (tmp_path / "lake.toml").write_text(LAKE)
    monkeypatch.setattr(estimate, "FILE_LIMIT", 1000)
    with pytest.raises(UnfinishedError, match="--force"):
        pipeline.run(tmp_path / "lake.toml", tmp_path / "o")
    assert not (tmp_path / "o").exists()
    assert pipeline.run(tmp_path / "lake.toml", tmp_path / "o", force=True).folder == tmp_path / "o"


def test_foreign_files_are_left_alone(tmp_path):
    (tmp_path / "lake.toml").write_text(LAKE)
    (tmp_path / "compare.png").write_text("a photo")
    done = called("run", "lake.toml", "--out", ".", cwd=tmp_path)
    assert done.returncode == 2
    assert "compare.png" in done.stderr
    assert (tmp_path / "compare.png").read_text() == "a photo"


def test_progress_is_drawn_on_a_terminal(ran, tmp_path):
    folder, _ = ran
    main, other = pty.openpty()
    environment = os.environ | {"PYTHONPATH": str(ROOT / "simulator"), "TERM": "xterm", "NO_COLOR": "1"}
    process = subprocess.Popen(
        [sys.executable, "-m", "pingwright", "run", folder / "lake.toml", "--no-pictures", "--out", tmp_path / "o"],
        stdout=subprocess.PIPE, stderr=other, env=environment,
    )  # fmt: skip
    os.close(other)
    shown = b""
    while True:
        try:
            block = os.read(main, 4096)
        except OSError:
            break
        if not block:
            break
        shown += block
    process.communicate()
    os.close(main)
    assert process.returncode == 0
    assert b"pinging" in shown
    assert b"\x1b[3" not in shown, "NO_COLOR is honoured"


def test_a_read_only_folder_is_told(tmp_path, monkeypatch):
    def refused(*_, **__):
        raise PermissionError(13, "Permission denied")

    (tmp_path / "lake.toml").write_text(LAKE)
    monkeypatch.setattr(Path, "mkdir", refused)
    with pytest.raises(UnfinishedError, match="permission denied"):
        pipeline.run(tmp_path / "lake.toml", tmp_path / "o")
