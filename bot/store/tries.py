"""Join codes that were tried in vain: counted by person and by company, so that nobody can try them all."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import bindparam, delete, func, insert, or_, select

from bot.store.connection import Tx
from bot.store.tables import join_tries

MOST = 10
WITHIN = timedelta(minutes=15)

_ADD = insert(join_tries)
_OLD = delete(join_tries).where(join_tries.c.at <= bindparam("until"))
_COUNT = select(
    func.count().filter(join_tries.c.who == bindparam("who")),
    func.count().filter(join_tries.c.company == bindparam("company")),
).where(
    join_tries.c.at > bindparam("since"),
    or_(join_tries.c.who == bindparam("who"), join_tries.c.company == bindparam("company")),
)


async def locked(tx: Tx, who: str, company: str, now: datetime) -> bool:
    """Whether the person or the company has used its tries up for now."""
    row = (await tx.execute(_COUNT, {"who": who, "company": company, "since": now - WITHIN})).one()
    return bool(max(row) >= MOST)


async def wrong(tx: Tx, who: str, company: str, now: datetime) -> None:
    """One more wrong code."""
    await tx.execute(_OLD, {"until": now - WITHIN})
    await tx.execute(_ADD, {"who": who, "company": company, "at": now})
