"""The terminal as three verbs: show lines, take one key, take one line of typing with choices offered beneath it."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from prompt_toolkit import PromptSession
from prompt_toolkit.completion import CompleteEvent, Completer, Completion
from prompt_toolkit.document import Document
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.keys import Keys
from rich.console import Console
from rich.text import Text

ESCAPE, ENTER = "\x1b", "\r"
OFFERED = 8  # choices beneath a line
Suggest = Callable[[str], Iterable[str]]


class Screen:
    """Escape in a line gives None; Ctrl-C and Ctrl-D raise KeyboardInterrupt: what was decided is written already."""

    def __init__(self, console: Console | None = None) -> None:
        self.console = console or Console(highlight=False)
        self.presses = 0
        self.steps = 0

    def clear(self) -> None:
        """Begin a new page."""
        if self.console.is_terminal:
            self.console.clear()
        self.steps += 1

    def show(self, text: str = "", *, style: str = "") -> None:
        """One or more lines, as they are: nothing in them is taken for a code."""
        self.console.print(Text(_harmless(text), style=style))

    def show_parts(self, *parts: tuple[str, str]) -> None:
        """One line of pairs of text and style."""
        self.console.print(Text.assemble(*((_harmless(text), style) for text, style in parts)))

    def show_keys(self, *items: str, style: str = "") -> None:
        """Keys with what they do, as many in a line as fit; none is broken in two."""
        lines = [""]
        for item in items:
            longer = f"{lines[-1]}   {item}" if lines[-1] else f"  {item}"
            if lines[-1] and len(longer) > self.console.width:
                lines.append(f"  {item}")
            else:
                lines[-1] = longer
        self.show("\n".join(lines), style=style)

    def key(self, prompt: str = "> ") -> str:
        """The next key: a character, ENTER or ESCAPE."""
        bindings = KeyBindings()

        @bindings.add(Keys.Any)
        @bindings.add(Keys.ControlM)
        @bindings.add(Keys.Escape, eager=True)
        def _(event: KeyPressEvent) -> None:
            event.app.exit(result=event.data)

        _stop_on(bindings)
        session: PromptSession[str] = PromptSession(key_bindings=bindings)
        pressed = session.prompt(prompt)
        self.presses += 1
        return pressed if pressed in (ENTER, ESCAPE) else pressed[:1].lower()

    def line(self, prompt: str, *, start: str = "", suggest: Suggest | None = None) -> str | None:
        """A line of typing that begins with `start`; None where it was left with Escape."""
        bindings = KeyBindings()

        @bindings.add(Keys.Escape, eager=True)
        def _(event: KeyPressEvent) -> None:
            event.app.exit(result=None)

        _stop_on(bindings)
        session: PromptSession[str | None] = PromptSession(key_bindings=bindings)
        typed = session.prompt(
            prompt,
            default=start,
            completer=_Offered(suggest) if suggest else None,
            complete_while_typing=True,
            reserve_space_for_menu=OFFERED if suggest else 0,
        )
        self.presses += 1 if typed is None else abs(len(typed) - len(start)) + 1
        return None if typed is None else " ".join(typed.split())


def _harmless(text: str) -> str:
    """The text without control characters, which a terminal would obey."""
    return "".join(c for c in text if c.isprintable() or c == "\n")


def _stop_on(bindings: KeyBindings) -> None:
    @bindings.add(Keys.ControlC, eager=True)
    @bindings.add(Keys.ControlD, eager=True)
    def _(event: KeyPressEvent) -> None:
        event.app.exit(exception=KeyboardInterrupt())


class _Offered(Completer):
    """What the letters may mean, best first, beneath the line."""

    def __init__(self, suggest: Suggest) -> None:
        self.suggest = suggest

    def get_completions(self, document: Document, complete_event: CompleteEvent) -> Iterable[Completion]:
        for _, text in zip(range(OFFERED), self.suggest(document.text), strict=False):
            yield Completion(text, start_position=-len(document.text))
