"""TLS for the pages: looked at before the start, and taken up anew when it is renewed."""

import asyncio
import logging
import ssl
from typing import Final

from monitor.access.private_file import stamp
from monitor.errors import FarmError
from monitor.farm import Web

_LOOK_S: Final = 30.0
log = logging.getLogger("cormwatch")


def refuse_unsound(web: Web) -> None:
    """Refuse a certificate and key that do not fit together.

    Raises
    ------
    FarmError
        If that is so, or a file cannot be read.
    """
    if web.certificate is None or web.key is None:
        return
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(web.certificate, web.key)
    except OSError as failure:  # ssl.SSLError is one
        raise FarmError(
            f"{web.certificate} and {web.key} cannot be used together ({failure}): "
            "make them anew with cormwatch certificate"
        ) from failure


async def follow(context: ssl.SSLContext, web: Web, every_s: float = _LOOK_S) -> None:
    """Take up a renewed certificate for the connections that come after it."""
    if web.certificate is None or web.key is None:
        return
    seen = stamp(web.certificate), stamp(web.key)
    while True:
        await asyncio.sleep(every_s)
        now = stamp(web.certificate), stamp(web.key)
        if now == seen:
            continue
        try:
            refuse_unsound(web)
            context.load_cert_chain(web.certificate, web.key)
        except (FarmError, OSError) as failure:
            log.error("the renewed certificate is not taken up: %s", failure)  # noqa: TRY400
            continue
        seen = now
        log.info("the renewed certificate of the pages is in force")
