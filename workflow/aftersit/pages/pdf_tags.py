"""What the printer leaves open in a PDF's tags, put right before the file is written.

Clauses are those of ISO 14289-1:2014 (PDF/UA-1).
"""

from collections.abc import Iterator

_FOOT = ("/Artifact", "<</Type /Pagination>>")


def mend_tags(_document, pdf) -> None:
    """Scope the heads of tables, and take running feet out of the content."""
    scope_heads(pdf)
    feet_are_artifacts(pdf)


def scope_heads(pdf) -> None:
    """Say of each head of a table whether it heads its column or its row (7.5).

    The printer names heads in the cells that they head, which leaves out a head of heads.
    """
    for element in [o for o in pdf.objects if isinstance(o, dict) and o.get("S") == "/TH"]:
        group = _object(pdf, _object(pdf, element["P"])["P"])
        element["A"]["Scope"] = "/Column" if group["S"] == "/THead" else "/Row"


def feet_are_artifacts(pdf) -> None:
    """Mark what stands outside the tree of tags, the feet of pages, as pagination (7.8)."""
    root = _object(pdf, pdf.catalog["StructTreeRoot"])
    inside = set(_inside(pdf, root["K"]))
    numbers = _object(pdf, root["ParentTree"])["Nums"]
    for page, tags in zip(_pages(pdf), numbers[1::2], strict=False):
        outside = {i for i, tag in enumerate(tags) if tag not in inside}
        stream = _object(pdf, page["Contents"]).stream
        for place, item in enumerate(stream):
            if isinstance(item, dict) and item.get("MCID") in outside:
                stream[place - 1 : place + 1] = _FOOT
        tags[:] = [b"null" if i in outside else tag for i, tag in enumerate(tags)]


def _inside(pdf, kids) -> Iterator[bytes]:
    """References of all elements below some kids; numbers among these are marks of text."""
    for kid in kids if isinstance(kids, list) else [kids]:
        if isinstance(kid, bytes):
            yield kid
            yield from _inside(pdf, _object(pdf, kid).get("K", []))


def _pages(pdf) -> list:
    return [_object(pdf, f"{number}".encode()) for number in pdf.pages["Kids"][::3]]


def _object(pdf, reference: bytes):
    """The object that a reference such as `12 0 R` names."""
    return pdf.objects[int(reference.split()[0])]
