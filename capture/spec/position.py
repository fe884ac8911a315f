"""Which parts stand together: whether every number of one finds its own of the other."""

from __future__ import annotations

from capture.spec.model import Part


def places(part: Part) -> int:
    """At how many places of its position the part stands."""
    return part.place(part.count)


def apart(one: Part, other: Part) -> tuple[str, str]:
    """Why some number of ``one`` finds nothing of ``other``, and the mend; both empty where every
    number does.

    Parts of the same position belong together place by place; a part of another position belongs
    to every number where there is one of it, and to none where there are several.
    """
    if one.position == other.position:
        if places(one) == places(other):
            return "", ""
        message = f'there are {one.count} of "{one.id}" but {other.count} of "{other.id}"'
        return message, "correct the count (or per) of one of the parts"
    if other.count == 1:
        return "", ""
    message = (
        f'"{one.id}" is counted by {one.position} and "{other.id}" by {other.position}, '
        "so no number of one belongs to a number of the other"
    )
    return message, f'give both parts the same position, as "{one.position}"'
