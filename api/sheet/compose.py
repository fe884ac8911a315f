"""The sections of a sheet in their order."""

from __future__ import annotations

from dataclasses import replace

from api.labels.catalogue import Labels
from api.sheet import figures, grounds, happened, head, proof, sizes, tightening
from api.sheet.blocks import Block, Section, Sheet
from api.sheet.gather import Material
from api.sheet.say import Say


def compose(material: Material, labels: Labels) -> Sheet:
    """A whole sheet in one language. The same material and language give the same sheet."""
    say = Say(labels, material.spec)
    sections = (
        head.identity(material, say),
        head.summary(material, say),
        sizes.sizes(material, say),
        sizes.derived(material, say),
        figures.figures(material, say),
        _with(
            tightening.tightening(material, say),
            (*figures.patterns(material, say), *figures.traces(material, say)),
        ),
        _with(tightening.turning(material, say), figures.turned(material, say)),
        grounds.checks(material, say),
        grounds.instruments(material, say),
        grounds.rule(material, say),
        happened.story(material, say),
        happened.confirmations(material, say),
        happened.cautions(material, say),
        proof.proof(material, say),
    )
    state = material.glance.state
    title = state["title"]
    return Sheet(
        language=labels.language,
        title=title,
        kind_of=say.text("sheet.kind"),
        marks=head.marks(material, say),
        head=say.about(say.text("sheet.kind"), title, state["id"]),
        foot=say.text(
            "sheet.foot", size=material.head.size, root=material.root, origin=material.head.origin
        ),
        page_of=say.text("sheet.page_of", page="{page}", pages="{pages}"),
        at=material.glance.as_of,
        sections=tuple(one for one in sections if one is not None and one.blocks),
        attached=proof.attached(material, say),
    )


def _with(section: Section, more: tuple[Block, ...]) -> Section:
    return replace(section, blocks=(*section.blocks, *more))
