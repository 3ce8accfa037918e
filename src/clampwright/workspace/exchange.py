"""Readings of the database in and out: CSV both ways, Parquet out.

An import is one transaction: all lines or none.
"""

from __future__ import annotations

import io
from collections.abc import Mapping

from clampwright.bench.board_readings import write_board
from clampwright.bench.columns import COLUMNS, Text
from clampwright.bench.readings import read_readings, write_readings
from clampwright.errors import InputError
from clampwright.workspace.boards import board_readings_of
from clampwright.workspace.database import Store
from clampwright.workspace.folder import content_hash
from clampwright.workspace.store import (
    BOARD,
    Session,
    Snapshot,
    append,
    now,
    readings_of,
    session_named,
    start_session,
    write_snapshots,
)


def import_csv(
    store: Store,
    data: bytes,
    name: str,
    *,
    session: str,
    who: str = "",
    conditions: str = "",
    sheets: Mapping[str, str] | None = None,
) -> Session:
    """A new session with every reading of a CSV file called `name`.

    sheets : text of instrument sheets by id; those the readings name are kept with the session
    Raises InputError naming file, line and column, and then nothing is imported; or when the same
    file is there already.
    """
    readings = read_readings(data, name)
    with store.writing() as connection:
        made = start_session(
            store,
            session,
            who=who,
            conditions=conditions,
            source_hash=content_hash(data),
            connection=connection,
        )
        append(store, made, readings, connection=connection)
        described = {
            i: text for i, text in (sheets or {}).items() if i in readings.instrument.names
        }
        taken = [Snapshot(i, text, taken=now()) for i, text in described.items()]
        write_snapshots(connection, made, taken)
    return session_named(store, session)


def export_csv(store: Store, session: Session, *, corrected: bool = True) -> str:
    """CSV text of a session, numbers to twelve digits; `import_csv` takes it back.

    Of an assembled board: its readings as they were given, which `separate` takes back.
    """
    if session.kind == BOARD:
        return write_board(board_readings_of(store, session))
    return write_readings(readings_of(store, session, corrected=corrected))


def export_parquet(store: Store, session: Session, *, corrected: bool = True) -> bytes:
    """A Parquet file of a session: SI units in the column names, text as dictionaries.

    Raises InputError when the optional library is not installed.
    """
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        raise InputError(
            "the library for Parquet files is not installed",
            mend='install it with: pip install "clampwright[parquet]", or export CSV',
        ) from None
    readings = readings_of(store, session, corrected=corrected)
    told = {"session": session.name, "who": session.who, "origin": session.origin}
    told |= {"started": session.started, "conditions": session.conditions}
    arrays = [_array(getattr(readings, c.field)) for c in COLUMNS]
    names = [_title(c.name, c.dimension) for c in COLUMNS]
    table = pyarrow.Table.from_arrays(arrays, names=names, metadata=told)
    out = io.BytesIO()
    parquet.write_table(table, out)
    return out.getvalue()


_SI = {"voltage": "V", "temperature": "K", "illuminance": "lx", "ratio": "1"}


def _title(name: str, dimension: str | None) -> str:
    return f"{name} ({_SI[dimension]})" if dimension else name


def _array(column: object) -> object:
    import pyarrow

    if isinstance(column, Text):
        codes = pyarrow.array(column.codes, pyarrow.int32())
        return pyarrow.DictionaryArray.from_arrays(codes, list(column.names))
    return pyarrow.array(column, from_pandas=True)  # "not a number" becomes "nothing written"


__all__ = ["export_csv", "export_parquet", "import_csv"]
