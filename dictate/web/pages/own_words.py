"""What was corrected twice is offered as an entry of the practice's own lexicon; a person takes it or leaves it."""

from __future__ import annotations

from starlette.responses import Response

from dictate import store
from dictate.review import Offer, OfferAnswered, offers
from dictate.review.decisions import now
from dictate.web.asking import Ask, Refused, go, show


def offers_page(ask: Ask) -> Response:
    return show(ask, "words.html", offers=_offers(ask), folder=ask.house.words.folder.name)


def answer(ask: Ask) -> Response:
    """Take an offered entry, or leave it out for good."""
    heard, meant = ask.sent.get("heard", ""), ask.sent.get("meant", "")
    offer = next((o for o in _offers(ask) if (o.heard, o.meant) == (heard, meant)), None)
    if offer is None:
        raise Refused("This entry is not offered any more; somebody may have answered it.", 409)
    taken = ask.sent.get("answer") == "take"
    if taken:
        ask.house.words.take(offer)
    answered = OfferAnswered(by=ask.who.name, time=now(), heard=heard, meant=meant, taken=taken)
    store.answer_offer(ask.house.store, answered, by=ask.who)
    return go("/words", done="taken" if taken else "left")


def _offers(ask: Ask) -> tuple[Offer, ...]:
    return offers(store.reviews(ask.house.store), ask.house.words.lexicon)
