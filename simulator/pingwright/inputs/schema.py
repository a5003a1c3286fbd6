"""JSON Schema of the input files, for editors that complete and check as one types."""

from typing import Any


def json_schema(kind: str = "scenario") -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of one kind of file: scenario, claims, trip or sweep.

    Files checked against it may still hold faults that only the loader sees: bounds of units, files, sums.
    Raises ValueError for another kind.
    """
    from pydantic import BaseModel

    from pingwright.inputs.claims import ClaimsKeys
    from pingwright.inputs.scenario import ScenarioFile
    from pingwright.inputs.sweep import SweepKeys
    from pingwright.inputs.trip import TripFile

    kinds: dict[str, type[BaseModel]] = {
        "scenario": ScenarioFile, "claims": ClaimsKeys, "trip": TripFile, "sweep": SweepKeys,
    }  # fmt: skip
    if kind not in kinds:
        message = f"no schema of {kind!r}; there are {', '.join(kinds)}"
        raise ValueError(message)
    schema = kinds[kind].model_json_schema(mode="validation")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": f"pingwright {kind}"}
