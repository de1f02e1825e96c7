"""XML looked through before anything is built from it: no document type, no great depth.

A document type can define entities that grow without bound when they are expanded, and a tree nested
without bound exhausts the stack. Neither occurs in the formats that are read here.
"""

from __future__ import annotations

from collections.abc import Callable
from xml.parsers import expat

from spectra.errors import FormatError

_DEEPEST = 60


def scan_xml(
    data: bytes, where: str, begin: Callable[[str, dict[str, str]], None], end: Callable[[str], None]
) -> None:
    """Walk through an XML document.

    Parameters
    ----------
    data
        The document.
    where
        File, for messages.
    begin, end
        Called with the local name (and attributes) of each element.

    Raises
    ------
    FormatError
        If the document is not well formed, declares a document type or is nested too deeply.

    Examples
    --------
    >>> names = []
    >>> scan_xml(b"<a><b/></a>", "a.xml", lambda name, _: names.append(name), lambda name: None)
    >>> names
    ['a', 'b']
    """
    depth = 0

    def on_begin(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        if depth > _DEEPEST:
            raise FormatError(f"{where}: XML nested deeper than {_DEEPEST} levels; it is no spectrum file")
        begin(local_name(name), attributes)

    def on_end(name: str) -> None:
        nonlocal depth
        depth -= 1
        end(local_name(name))

    def on_doctype(*_: object) -> None:
        raise FormatError(f"{where}: declares a document type (DOCTYPE), which is not read; remove the line")

    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler = on_begin
    parser.EndElementHandler = on_end
    parser.StartDoctypeDeclHandler = on_doctype
    try:
        parser.Parse(data, True)
    except (expat.ExpatError, LookupError, ValueError) as error:
        if isinstance(error, FormatError):
            raise
        raise FormatError(f"{where}: is broken XML ({error}); export it again") from None


def local_name(name: str) -> str:
    """Return an element or attribute name without its namespace.

    Examples
    --------
    >>> local_name("{urn:x}Series"), local_name("urn:x Series")
    ('Series', 'Series')
    """
    return name.rpartition("}")[2].rpartition(" ")[2]
