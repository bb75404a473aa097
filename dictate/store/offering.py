"""What a practice corrected oftener: the reviews to look through, and the answers to the entries that were offered."""

from __future__ import annotations

from sqlalchemy import or_, select

from dictate.exam.record import Record
from dictate.review import Decision, OfferAnswered, decision_from_json
from dictate.store.canonical import canonical
from dictate.store.chain import Writer
from dictate.store.drafts import draft_of
from dictate.store.opening import Store
from dictate.store.people import Account, need
from dictate.store.reviewing import decided_about
from dictate.store.tables import decisions, settings

KINDS = ("replace", "place", "settle", "offer answered")
NAME = "offer answered"
Review = tuple[Record, tuple[Decision, ...]]


def reviews(store: Store, *, limit: int = 500) -> tuple[Review, ...]:
    """Drafts with the decisions about them, the newest first, of visits in which something was corrected: what
    `dictate.review.offers` looks through. The answers given for the whole practice stand with the newest draft."""
    with store.reading() as connection:
        some = or_(*(decisions.c.body.like(f'%"kind":"{kind}"%') for kind in KINDS))
        found = select(decisions.c.draft_id).where(some, decisions.c.base_version == 0).distinct()
        newest = connection.execute(found.order_by(decisions.c.draft_id.desc()).limit(limit)).scalars().all()
        values = connection.execute(select(settings.c.value).where(settings.c.name == NAME).order_by(settings.c.id))
        answers = tuple(decision_from_json(value) for value in values.scalars())
        made: list[Review] = []
        for draft_id in newest:
            made.append((draft_of(connection, draft_id), (*decided_about(connection, draft_id), *answers)))
            answers = ()
        return tuple(made)


def answer_offer(store: Store, answered: OfferAnswered, *, by: Account) -> None:
    """Keep that an offered entry of the lexicon was taken or declined, for the whole practice."""
    need(by, "reviewer", "signer")
    told = answered.model_copy(update={"by": by.name}).model_dump(mode="json")
    with store.changing() as connection:
        Writer(connection, by_id=by.id).add(settings, name=NAME, value=canonical(told))
