"""The front of the command line: every end of a command becomes one message and an exit status.

0 as the command says; 1 as the command says; 2 the input or the call is at fault (one message, nothing
written); 3 a fault of this program; 130 stopped by the user.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading
import traceback
from collections.abc import Iterator
from typing import Any

import click

from spectra.errors import CoatproofError

# One thread for matrix products, unless the user says otherwise: the matrices are small, threads that wait
# for one another cost several times what they save on a busy machine, and the last digits stay the same.
for variable in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(variable, "1")


class Front(click.Group):
    """The command group: every error becomes one message and an exit status."""

    def main(self, *args: Any, **more: Any) -> Any:
        """Run a command and end the process with its status."""
        try:
            with _ended_gently():
                status = super().main(*args, **{**more, "standalone_mode": False})
        except click.exceptions.NoArgsIsHelpError as error:
            error.show()
            sys.exit(2)
        except click.ClickException as error:
            sys.exit(tell(_usage(error), 2))
        except CoatproofError as error:
            sys.exit(tell(str(error), 2))
        except (click.Abort, KeyboardInterrupt):
            sys.exit(tell("stopped; nothing was written", 130))
        except OSError as error:
            sys.exit(tell(f"{error.filename or 'a file'}: {error.strerror or error}", 2))
        except Exception:
            traceback.print_exc()
            sys.exit(tell("a fault of coatproof, not of your files: please report the lines above", 3))
        sys.exit(status if isinstance(status, int) else 0)


@contextlib.contextmanager
def _ended_gently() -> Iterator[None]:
    """Treat the request to end like the user's own, so that nothing half-written stays behind."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def tell(message: str, status: int) -> int:
    """Write one message to the error stream and return the exit status that goes with it."""
    click.echo(f"coatproof: {message}", err=True)
    return status


def _usage(error: click.ClickException) -> str:
    """Return what was wrong with the call, and where the command's help is."""
    context = getattr(error, "ctx", None)
    command = context.command_path if context else "coatproof"
    return f"{error.format_message().rstrip('.')}; see {command} --help"


def print_version(context: click.Context, _: click.Parameter, wanted: bool) -> None:
    """Print the version and end; a callback of click."""
    if wanted:
        from importlib.metadata import PackageNotFoundError, version

        try:
            click.echo(f"coatproof {version('coatproof')}")
        except PackageNotFoundError:
            click.echo("coatproof (not installed: run from its source)")
        context.exit()
