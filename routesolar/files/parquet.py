"""Tables as Parquet: columns with types of their own, and what they rest on in the file itself."""

import io
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from routesolar.errors import InputError, UsageError

RECORD = b"routesolar"  # the key of what a table rests on, among a file's own metadata
BATCH_ROWS = 65_536


def parquet_bytes(
    columns: Mapping[str, Any], rows: Sequence[Mapping[str, Any]], record: Mapping[str, Any], time_zone: str
) -> bytes:
    """Return rows as the content of a Parquet file, the same bytes for the same rows.

    `columns` names the kind of each: text, texts, number, count, day, moment (in the time zone), or a mapping
    of columns within it. `record` is kept beside the columns.

    Raises:
        UsageError: the library that writes Parquet is not installed.
    """
    pa = _arrow()
    schema = pa.schema([pa.field(name, _type(pa, kind, time_zone)) for name, kind in columns.items()])
    schema = schema.with_metadata({RECORD: json.dumps(record).encode()})
    arrays = [pa.array([row[field.name] for row in rows], type=field.type) for field in schema]
    content = io.BytesIO()
    pa.parquet.write_table(pa.Table.from_arrays(arrays, schema=schema), content, compression="zstd")
    return content.getvalue()


def record_of(path: Path) -> dict[str, Any] | None:
    """Return what a Parquet file of ours rests on; None for any other file, or one that is not whole."""
    pa = _arrow()
    try:
        metadata = pa.parquet.read_schema(path).metadata or {}
        record = json.loads(metadata[RECORD])
    except (pa.ArrowException, OSError, ValueError, KeyError):
        return None
    return record if isinstance(record, dict) else None


def columns_of(path: Path, names: Sequence[str]) -> Iterator[dict[str, list[Any]]]:
    """Return columns of a Parquet file, some rows at a time.

    Raises:
        InputError: the file cannot be read.
    """
    pa = _arrow()
    try:
        with pa.parquet.ParquetFile(path) as opened:
            for batch in opened.iter_batches(BATCH_ROWS, columns=list(names)):
                yield {name: batch.column(name).to_pylist() for name in names}
    except (pa.ArrowException, OSError) as error:
        raise InputError(f"{path}: cannot be read as Parquet ({error}); remove it and run again") from None


def check_arrow() -> None:
    """Raise UsageError where the library that writes Parquet is not installed."""
    _arrow()


def _arrow() -> Any:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError:
        raise UsageError(
            "a study writes Parquet with pyarrow, which is not installed; in your copy of routesolar install "
            'it with: pip install ".[study]"'
        ) from None
    return pyarrow


def _type(pa: Any, kind: Any, time_zone: str) -> Any:
    if isinstance(kind, Mapping):
        return pa.struct([pa.field(name, _type(pa, inner, time_zone)) for name, inner in kind.items()])
    return {
        "text": pa.string(),
        "texts": pa.list_(pa.string()),
        "number": pa.float64(),
        "count": pa.int32(),
        "day": pa.date32(),
        "moment": pa.timestamp("ms", tz=time_zone),
    }[kind]
