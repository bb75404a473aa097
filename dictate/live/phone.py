"""Sound from the browser of a phone or tablet: numbered pieces, each kept once, sent again until it is confirmed."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from dictate.live.resampling import Resampler
from dictate.live.sources import BLOCK, Block, QueueSource


class PhoneSource:
    """A source whose pieces come by `take`. One page at a time speaks: a second one is told to wait."""

    def __init__(self) -> None:
        self.name = "the phone"
        self._queue = QueueSource(self.name)
        self._lock = threading.Lock()
        self._page, self._last = "", -1
        self._bring: Resampler | None = None

    def take(self, page: str, number: int, rate: int, samples: NDArray[np.int16]) -> int:
        """Take in piece `number` of a page; the number of the last piece that was taken, to be confirmed.

        A piece that came before is passed over; one that is ahead of its turn is not taken, so that it comes again.
        """
        with self._lock:
            if page != self._page:  # a page that was opened anew counts from 0 again
                self._page, self._last, self._bring = page, -1, Resampler(rate)
            if number == self._last + 1:
                if self._bring is None or self._bring.rate != rate:
                    self._bring = Resampler(rate)
                brought = self._bring(samples)
                for at in range(0, len(brought), BLOCK):
                    self._queue.put(brought[at : at + BLOCK])
                self._last = number
            return self._last

    def blocks(self, stop: threading.Event) -> Iterator[Block]:
        return self._queue.blocks(stop)
