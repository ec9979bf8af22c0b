"""The published JSON schemas of record and protocol, made from their models."""

from pathlib import Path

from aftersit.closed import Closed
from aftersit.files import write_json
from aftersit.protocol import Protocol
from aftersit.record import Record

FOLDER = Path(__file__).parents[2] / "schemas"
PUBLISHED: dict[str, type[Closed]] = {
    "record.schema.json": Record,
    "protocol.schema.json": Protocol,
}


def schema(model: type[Closed]) -> dict:
    """JSON schema (draft 2020-12) of a model as it stands in a file."""
    made = model.model_json_schema(mode="validation")
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **made}


def write_schemas(folder: Path = FOLDER) -> None:
    """Write every published schema; run after a change of a model."""
    for name, model in PUBLISHED.items():
        write_json(folder / name, schema(model))


if __name__ == "__main__":
    write_schemas()
