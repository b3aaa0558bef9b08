"""Who may use the embedded broker, and when it takes no more. Loaded by amqtt."""

import hmac
from dataclasses import dataclass

from amqtt.broker import Broker, BrokerContext
from amqtt.contexts import Action, BaseContext
from amqtt.plugins.base import BaseAuthPlugin, BaseTopicPlugin
from amqtt.session import Session


class Gate(BaseAuthPlugin, BaseTopicPlugin):  # type: ignore[misc]  # amqtt gives no types
    """Lets one user in and refuses messages while too many wait to be taken."""

    @dataclass
    class Config:
        """The user, and how many messages may wait."""

        user: str
        password: str
        backlog: int

    def __init__(self, context: BaseContext) -> None:
        super().__init__(context)
        self.refused = 0

    async def authenticate(self, *, session: Session) -> bool | None:
        """Let in whoever knows user and password; nobody else, and nobody anonymous."""
        given = f"{session.username or ''}\0{session.password or ''}".encode()
        right = f"{self.config.user}\0{self.config.password}".encode()
        return hmac.compare_digest(given, right)

    async def topic_filtering(
        self, *, session: Session | None = None, topic: str | None = None,  # noqa: ARG002  # amqtt
        action: Action | None = None,
    ) -> bool | None:  # fmt: skip
        """Refuse a publication while too many messages wait; allow the rest."""
        if action is not Action.PUBLISH or waiting(self.context) < self.config.backlog:
            return True
        self.refused += 1
        return False


def waiting(context: BaseContext) -> int:
    """Return the messages that signed-in clients have not taken yet."""
    if not isinstance(context, BrokerContext):
        return 0
    return sum(
        session.retained_messages.qsize() + len(session.inflight_out)
        for session in context.sessions
    )


def refused_by(broker: Broker) -> int:
    """Return how many messages a broker's gate has refused."""
    return sum(p.refused for p in broker.plugins_manager.plugins if isinstance(p, Gate))
