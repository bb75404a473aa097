"""One sitting: questions, the record, the summary, and what is offered to the practice's lexicon."""

from __future__ import annotations

from pathlib import Path

from dictate.errors import InputError
from dictate.exam.record import Record
from dictate.review.decisions import Decision, OfferAnswered, now
from dictate.review.files import DRAFT, REVIEW, load_review
from dictate.review.offers import add_own_word, offers
from dictate.review.signing import blocks
from dictate.review.terminal.asking import STOP, ask_all
from dictate.review.terminal.browsing import browse, show_summary
from dictate.review.terminal.desk import Desk


def sit(desk: Desk, *, own_words: Path | None = None) -> bool:
    """Review until the reviewer stops or has seen the summary. Whether nothing is open any more.

    `own_words` is the folder of the practice's own tables; without it nothing can be offered to them.
    """
    place = ask_all(desk)
    while place != STOP:
        place = browse(desk)
        if place == "d":
            desk.later.clear()
            place = ask_all(desk)
        elif place == "v":
            show_summary(desk)
            if desk.screen.key("Enter: done   b back to the record: ") != "b":
                break
    offer_entries(desk, own_words)
    return not blocks(desk.record)


def offer_entries(desk: Desk, folder: Path | None) -> None:
    """Offer what was corrected twice, in this review or in those beside it, as an entry; one key each."""
    for offer in offers(_reviews_beside(desk), desk.lexicon):
        told = f"“{offer.heard}” was corrected to “{offer.meant}” {offer.times} times."
        if folder is None:
            desk.screen.show(f"{told} With --lexicon FOLDER it can be added to your own tables.")
            continue
        desk.screen.show(f"{told} Add it to your own tables?")
        key = desk.screen.key("y yes   n never   any other key: not now ")
        if key == "y":
            add_own_word(folder, offer)
        if key in ("y", "n"):
            desk.take(OfferAnswered(by=desk.by, time=now(), heard=offer.heard, meant=offer.meant, taken=key == "y"))


def _reviews_beside(desk: Desk) -> list[tuple[Record, tuple[Decision, ...]]]:
    """Every draft in the folder with its decisions; one that cannot be read is passed over."""
    found = []
    for file in sorted(desk.review.file.parent.glob(f"*{REVIEW}")):
        try:
            review = load_review(file.with_name(file.name.removesuffix(REVIEW) + DRAFT))
        except InputError:
            continue
        found.append((review.draft, review.decisions))
    return found
