"""What pyserial and the system say about a port, turned into our reasons."""

import errno
import sys

from drivers.errors import LinkError, LinkReason
from drivers.links.permission import permission
from drivers.links.settings import PortSettings

# Of one port three libraries speak: pyserial (SerialException is an OSError), termios, whose error is a plain
# Exception, and Python, where a port closed under a reader gives TypeError (its descriptor has become None).
PORT_ERRORS: tuple[type[Exception], ...] = (OSError, TypeError)
if sys.platform != "win32":
    import termios

    PORT_ERRORS = (*PORT_ERRORS, termios.error)
OPEN_ERRORS: tuple[type[Exception], ...] = (*PORT_ERRORS, ValueError, OverflowError, LookupError)
CLOSE_ERRORS: tuple[type[Exception], ...] = (*PORT_ERRORS, TimeoutError)

_REASONS = {
    errno.ENOENT: LinkReason.MISSING,
    errno.ENOTDIR: LinkReason.MISSING,
    errno.ELOOP: LinkReason.MISSING,
    errno.ENAMETOOLONG: LinkReason.MISSING,
    errno.EACCES: LinkReason.NO_PERMISSION,
    errno.EPERM: LinkReason.NO_PERMISSION,
    errno.EAGAIN: LinkReason.BUSY,
    errno.EBUSY: LinkReason.BUSY,
    errno.ENOTTY: LinkReason.NOT_A_PORT,
    errno.EISDIR: LinkReason.NOT_A_PORT,
    errno.EINVAL: LinkReason.SETTINGS,
    errno.ECONNREFUSED: LinkReason.NO_ANSWER,
    errno.EHOSTUNREACH: LinkReason.NO_ANSWER,
    errno.ENETUNREACH: LinkReason.NO_ANSWER,
    errno.ETIMEDOUT: LinkReason.NO_ANSWER,
}


def open_error(port: str, error: Exception, settings: PortSettings) -> LinkError:
    """Why `port` cannot be opened with these settings."""
    number = _number(error)
    network = "://" in port
    if number is None and isinstance(error, ValueError | OverflowError | LookupError):
        reason = LinkReason.NOT_A_PORT if network else LinkReason.SETTINGS
    elif number is None:
        reason = LinkReason.NO_ANSWER if network else LinkReason.GONE
    else:
        reason = _REASONS.get(number, LinkReason.NO_ANSWER if network else LinkReason.GONE)
    if reason is LinkReason.SETTINGS:
        return LinkError(reason, port, str(settings))
    if reason is LinkReason.NO_PERMISSION:
        code, words = permission(port).code_and_words(port)
        return LinkError(reason, *words, code=code)
    return LinkError(reason, port)


def _number(error: BaseException | None) -> int | None:
    """The error number of the system; pyserial often keeps it only in the exception that it was handling."""
    while error is not None:
        number = getattr(error, "errno", None)
        if number is None and error.args and isinstance(error.args[0], int):
            number = error.args[0]
        if isinstance(number, int):
            return number
        error = error.__cause__ or error.__context__
    return None
