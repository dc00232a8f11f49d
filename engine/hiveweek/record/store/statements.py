"""Every statement of the store, by name, written once; SQLite gets them compiled (``statements.json``), servers as they are.

``python -m upkeep.statements`` compiles them; a test holds the file current.
"""

from __future__ import annotations

from sqlalchemy import and_, bindparam, delete, exists, func, insert, select, update
from sqlalchemy.sql import Executable

from hiveweek.record.store.tables import apiary, entry, hive, placement, practised, told, withdrawn

# On how many days the old tellings of one thing still matter: the last, the one before it, and one to compare with.
OLD_TELLINGS = 3
LOOKED_BACK = 500  # entries among which one person's last is looked for


def _entries():
    return select(entry.c.id, entry.c.apiary, entry.c.sequence, entry.c.hive, entry.c.body)


def _stands():
    """What was neither taken back nor corrected by an entry that stands."""
    later = entry.alias("later")
    return and_(
        ~exists().where(withdrawn.c.entry == entry.c.id),
        ~exists().where(later.c.replaces == entry.c.id, ~exists().where(withdrawn.c.entry == later.c.id)),
    )


def _last_tellings(owners):
    """Entries up to a day that hold one of the last tellings of anything about some hives (or about the apiary itself).

    Steps from thing to thing in the index of what was told, and from there to the last days of each: however many years lie behind,
    a step costs the same.

    Parameters
    ----------
    owners : select
        Ids, as ``owner``.
    """
    owner = owners.subquery("owners")
    first = select(func.min(told.c.what)).where(told.c.hive == owner.c.owner).correlate(owner).scalar_subquery()
    things = select(owner.c.owner.label("hive"), first.label("what")).cte("things", recursive=True)
    after = (
        select(func.min(told.c.what))
        .where(told.c.hive == things.c.hive, told.c.what > things.c.what)
        .correlate(things)
        .scalar_subquery()
    )
    things = things.union_all(select(things.c.hive, after).where(things.c.what.is_not(None)))
    older = told.alias("older")
    oldest = (
        select(older.c.date)
        .where(older.c.hive == things.c.hive, older.c.what == things.c.what, older.c.date <= bindparam("since"))
        .order_by(older.c.date.desc())
        .limit(1)
        .offset(OLD_TELLINGS - 1)
        .correlate(things)
        .scalar_subquery()
    )
    return select(told.c.entry).where(
        told.c.hive == things.c.hive,
        told.c.what == things.c.what,
        told.c.date <= bindparam("since"),
        told.c.date >= func.coalesce(oldest, ""),
    )


def statements() -> dict[str, Executable]:
    """Return the statements by name; their parameters are named after the columns."""
    standing = select(placement.c.hive).where(placement.c.apiary == bindparam("apiary"))
    return {
        "apiaries": select(apiary).order_by(apiary.c.folded),
        "apiary": select(apiary).where(apiary.c.id == bindparam("id")),
        "lock_apiary": select(apiary.c.revision).where(apiary.c.id == bindparam("id")).with_for_update(),
        "add_apiary": insert(apiary),
        "change_apiary": update(apiary)
        .where(apiary.c.id == bindparam("key"))
        .values(
            name=bindparam("name"), folded=bindparam("folded"), body=bindparam("body"), revision=bindparam("revision")
        ),
        "set_revision": update(apiary).where(apiary.c.id == bindparam("key")).values(revision=bindparam("revision")),
        "hives": select(hive).order_by(hive.c.added, hive.c.id),
        "hives_of": select(hive).where(hive.c.id.in_(standing)).order_by(hive.c.added, hive.c.id),
        "hive": select(hive).where(hive.c.id == bindparam("id")),
        "hives_named": select(hive).where(hive.c.folded == bindparam("folded")).order_by(hive.c.added, hive.c.id),
        "placements": select(placement).order_by(placement.c.hive, placement.c.since),
        "placements_of": select(placement)
        .where(placement.c.hive.in_(standing))
        .order_by(placement.c.hive, placement.c.since),
        "placements_named": select(placement)
        .where(placement.c.hive.in_(select(hive.c.id).where(hive.c.folded == bindparam("folded"))))
        .order_by(placement.c.hive, placement.c.since),
        "placements_of_hive": select(placement)
        .where(placement.c.hive == bindparam("hive"))
        .order_by(placement.c.since),
        "last_added": select(func.max(hive.c.added)),
        "add_hive": insert(hive),
        "rename_hive": update(hive)
        .where(hive.c.id == bindparam("key"))
        .values(name=bindparam("name"), folded=bindparam("folded")),
        "end_hive": update(hive)
        .where(hive.c.id == bindparam("key"))
        .values(ended=bindparam("ended"), ended_because=bindparam("ended_because")),
        "add_placement": insert(placement),
        "remove_placement": delete(placement).where(
            placement.c.hive == bindparam("key"), placement.c.since == bindparam("day")
        ),
        "entry": _entries().add_columns(entry.c.digest).where(entry.c.id == bindparam("id")),
        "has_entry": select(entry.c.id).where(entry.c.id == bindparam("id")),
        "add_entry": insert(entry),
        "forget_entry": update(entry)
        .where(entry.c.id == bindparam("key"))
        .values(body=bindparam("body"), digest=bindparam("digest")),
        "recent_of_hives": _entries().where(entry.c.hive.in_(standing), entry.c.date > bindparam("since"), _stands()),
        "recent_of_apiary": _entries().where(
            entry.c.apiary == bindparam("apiary"), entry.c.hive.is_(None), entry.c.date > bindparam("since"), _stands()
        ),
        "old_of_hives": _entries().where(
            entry.c.id.in_(
                _last_tellings(
                    select(placement.c.hive.label("owner")).where(placement.c.apiary == bindparam("apiary")).distinct()
                )
            )
        ),
        "old_of_apiary": _entries().where(
            entry.c.id.in_(_last_tellings(select(apiary.c.id.label("owner")).where(apiary.c.id == bindparam("apiary"))))
        ),
        "recent_of_hive": _entries()
        .where(entry.c.hive == bindparam("hive"), entry.c.date >= bindparam("since"), _stands())
        .order_by(entry.c.sequence),
        "all_entries": select(entry).order_by(entry.c.apiary, entry.c.sequence),
        "entries_by_id": select(entry, _stands().label("live")).order_by(entry.c.id),
        "highest": select(apiary.c.name, apiary.c.revision, func.max(entry.c.sequence).label("highest"))
        .join_from(apiary, entry, entry.c.apiary == apiary.c.id)
        .group_by(apiary.c.id, apiary.c.name, apiary.c.revision),
        "of_note": select(entry.c.id, entry.c.apiary).where(entry.c.note == bindparam("note")),
        "last_note": select(entry.c.note)
        .where(entry.c.apiary == bindparam("apiary"), entry.c.id.not_in(select(withdrawn.c.entry)), entry.c.note != "")
        .order_by(entry.c.sequence.desc())
        .limit(1),
        "last_entries": _entries()
        .add_columns(entry.c.note)
        .where(entry.c.apiary == bindparam("apiary"), entry.c.id.not_in(select(withdrawn.c.entry)), entry.c.note != "")
        .order_by(entry.c.sequence.desc())
        .limit(LOOKED_BACK),
        "numbered": select(entry.c.id).where(
            entry.c.apiary == bindparam("apiary"), entry.c.sequence == bindparam("sequence")
        ),
        "forget_withdrawal": update(withdrawn).where(withdrawn.c.entry == bindparam("key")).values(who=""),
        "correcting": select(entry.c.id).where(
            entry.c.replaces == bindparam("replaces"), entry.c.id.not_in(select(withdrawn.c.entry))
        ),
        "withdrawn": select(withdrawn.c.entry),
        "is_withdrawn": select(withdrawn.c.entry).where(withdrawn.c.entry == bindparam("entry")),
        "withdraw": insert(withdrawn),
        "tell": insert(told),
        "untell": delete(told).where(told.c.entry == bindparam("key")),
        "told_by_entry": select(told).order_by(told.c.entry),
        "untell_all": delete(told),
        "practised": select(practised).order_by(practised.c.at, practised.c.id),
        "add_practised": insert(practised),
        "forget_practised": delete(practised).where(practised.c.id == bindparam("key")),
    }
