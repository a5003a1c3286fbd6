"""A small helping of benchmarks/fuzz_inputs.py: mutated files are read or refused, nothing else."""

import importlib.util
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parent.parent / "benchmarks" / "fuzz_inputs.py"


#: Inputs of each kind.
COUNTS = {"scenario": 80, "claims": 60, "trip": 120, "profile": 90, "grid": 80, "pattern": 80,
          "settings": 35, "sweep": 20, "typed": 60, "ask": 20, "first": 40, "bench": 80, "export": 10}  # fmt: skip


@pytest.mark.parametrize("kind", COUNTS)
def test_mutated_files_are_read_or_refused(kind: str) -> None:
    spec = importlib.util.spec_from_file_location("fuzz_inputs", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    sys.modules["fuzz_inputs"] = script
    spec.loader.exec_module(script)
    outcomes, slowest, failures = script.throw(COUNTS[kind], 20, resolving=True, only=(kind,), keep=None)
    assert failures == []
    assert outcomes[kind, "refused"] > 0
    assert slowest < script.SLOWEST_S
