"""The tables of the record, once for every database.

Days and times are ISO texts (they sort as they should and know no year 2038); what is only ever read whole is JSON. ``told`` is an
index, made anew from the entries whenever it is in doubt: for each live entry and each thing it tells (a fact, or an action done or
answered) one row, so that the last word on anything is found without reading years.
"""

from __future__ import annotations

from sqlalchemy import BigInteger, Column, ForeignKey, Index, MetaData, String, Table, Text, UniqueConstraint

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)
_ID = String(64)

apiary = Table(
    "apiary",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("name", Text, nullable=False),
    Column("folded", Text, nullable=False, unique=True),
    Column("body", Text, nullable=False),
    Column("revision", BigInteger, nullable=False),
)
hive = Table(
    "hive",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("name", Text, nullable=False),
    Column("folded", Text, nullable=False),
    Column("added", BigInteger, nullable=False),
    Column("ended", String(10)),
    Column("ended_because", Text, nullable=False),
)
placement = Table(
    "placement",
    metadata,
    Column("hive", _ID, ForeignKey("hive.id"), primary_key=True),
    Column("since", String(10), primary_key=True),
    Column("apiary", _ID, ForeignKey("apiary.id"), nullable=False, index=True),
)
entry = Table(
    "entry",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("apiary", _ID, ForeignKey("apiary.id"), nullable=False),
    Column("sequence", BigInteger, nullable=False),
    Column("hive", _ID, ForeignKey("hive.id")),
    Column("date", String(10), nullable=False),
    Column("note", _ID, nullable=False, index=True),
    Column("replaces", _ID, ForeignKey("entry.id"), index=True),
    Column("digest", String(64), nullable=False),
    Column("body", Text, nullable=False),
    UniqueConstraint("apiary", "sequence"),
    Index("ix_entry_hive_date", "hive", "date"),
    Index("ix_entry_apiary_hive_date", "apiary", "hive", "date"),
)
withdrawn = Table(
    "withdrawn",
    metadata,
    Column("entry", _ID, ForeignKey("entry.id"), primary_key=True),
    Column("at", String(40), nullable=False),
    Column("who", Text, nullable=False),
)
told = Table(
    "told",
    metadata,
    Column("hive", _ID, nullable=False),
    Column("what", String(96), nullable=False),
    Column("date", String(10), nullable=False),
    Column("entry", _ID, ForeignKey("entry.id"), nullable=False),
    UniqueConstraint("hive", "what", "date", "entry"),
    Index("ix_told_entry", "entry"),
)
practised = Table(
    "practised",
    metadata,
    Column("id", _ID, primary_key=True),
    Column("lesson", String(96), nullable=False),
    Column("at", String(40), nullable=False),
    Column("body", Text, nullable=False),
)
