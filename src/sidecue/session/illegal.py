"""The error of an event that cannot happen."""

from __future__ import annotations

from sidecue.session.events import Event
from sidecue.session.state import SessionState


class IllegalEvent(Exception):  # noqa: N818 - an event is illegal; "error" says less
    """An event that cannot happen in this state. The state is unchanged."""

    def __init__(self, event: Event, state: SessionState, allowed: tuple[str, ...]) -> None:
        self.event, self.state, self.allowed = event, state, allowed
        where = f"step {state.step!r}, {state.mode.value}"
        super().__init__(
            f"{event} is not possible at {where}; allowed: {', '.join(allowed) or 'none'}"
        )
