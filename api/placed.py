"""Where something stands, in the words of its spec: ``measure-bore/2/top-thrust`` is *Bore
diameter, Cylinder 2, top thrust*. Pages and sheets say it so, and keep the id beside it."""

from __future__ import annotations

from collections.abc import Iterable

from capture import belong
from capture.spec.model import Kind, Operation, Spec
from capture.titles import title_of


def readable(word: str) -> str:
    """A word of a spec, without its hyphens."""
    return word.replace("-", " ").replace("_", " ")


class Places:
    """What the steps, sizes and parts of one spec are called."""

    def __init__(self, spec: Spec) -> None:
        self._spec = spec
        self._operations = {one.id: one for one in spec.operations}

    def part(self, part: str | None, number: int) -> str:
        """One of a part: ``Cylinder 3``; of a part that there is one of its title alone."""
        found = None if part is None else self._spec.parts.get(part)
        if found is None:
            return str(number)
        return found.title if found.count == 1 else f"{found.title} {number}"

    def point(self, operation: str, point: str) -> str:
        """A point of a characteristic, or the title of a stage of tightening."""
        found = self._operations.get(operation)
        if found is not None and found.kind is Kind.TIGHTEN:
            for stage in self._spec.fasteners[found.subject].stages:
                if stage.id == point:
                    return stage.title
        return readable(point)

    def of(self, subject: str) -> str:
        """An id of a step, or of what its repeats share, of an operation, a characteristic or a
        derived quantity (with its number), in words. What the spec does not know stays as it is."""
        name, *rest = subject.split("/")
        found = self._operations.get(name)
        if found is not None:
            said = [title_of(self._spec, found.kind, found.subject), *self._where(found, rest)]
        elif name in self._spec.characteristics:
            said = [self._spec.characteristics[name].title, *map(readable, rest)]
        elif name in self._spec.derived:
            part = belong.part_of(self._spec, name)
            said = [self._spec.derived[name].title]
            said += [self.part(part, int(one)) for one in rest if one.isdigit()]
        else:
            return subject
        return ", ".join(one for one in said if one)

    def all(self, subjects: Iterable[str]) -> str:
        """Several, one after the other."""
        return ", ".join(dict.fromkeys(map(self.of, subjects)))

    def rest(self, step: str) -> str:
        """A step's id without what its operation is called: ``Cylinder 2, top thrust``."""
        name, *rest = step.split("/")
        found = self._operations.get(name)
        return ", ".join(self._where(found, rest)) if found else step

    def _where(self, operation: Operation, rest: list[str]) -> list[str]:
        """Number, point and repeat, as far as they are given."""
        said = []
        if rest and rest[0].isdigit():
            part = self._part_of(operation)
            if part is not None:
                said.append(self.part(part, int(rest[0])))
            elif operation.kind is Kind.STUDY or len(rest) > 1:
                said.append(rest[0])
            rest = rest[1:]
        return said + [self.point(operation.id, one) for one in rest]

    def _part_of(self, operation: Operation) -> str | None:
        spec, subject = self._spec, operation.subject
        match operation.kind:
            case Kind.MEASURE:
                return spec.characteristics[subject].part
            case Kind.TIGHTEN:
                return spec.fasteners[subject].part
            case Kind.CONFIRM:
                return spec.confirmations[subject].part
            case Kind.TURN:
                return spec.turning_tests[subject].part
        return None
