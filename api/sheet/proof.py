"""The signed checkpoint, how to verify it, and what it can and cannot prove."""

from __future__ import annotations

from api.sheet.blocks import Attached, Block, Facts, Heading, Items, Section, Text, Verbatim
from api.sheet.gather import Material
from api.sheet.say import Say

CHECKPOINT = "checkpoint.txt"
KEY = "verifier-key.txt"


def proof(material: Material, say: Say) -> Section:
    """For whoever wants to prove, later, that nothing was changed."""
    head, build = material.head, material.glance.state["id"]
    blocks: tuple[Block, ...] = (
        Text(say.text("sheet.proof.what", size=head.size)),
        Facts(
            (
                (say.text("sheet.proof.log"), head.origin, "mono"),
                (say.text("sheet.proof.size"), str(head.size), "mono"),
                (say.text("sheet.proof.root"), material.root, "mono"),
            )
        ),
        Verbatim(material.signed.rstrip("\n"), say.text("sheet.proof.checkpoint", file=CHECKPOINT)),
        Verbatim(material.key, say.text("sheet.proof.key", file=KEY)),
        Heading(say.text("sheet.proof.how")),
        Items(
            (
                say.text("sheet.proof.keep", file=CHECKPOINT),
                say.text("sheet.proof.ask"),
                say.text("sheet.proof.others"),
            )
        ),
        Verbatim(_commands(build, head.size), say.text("sheet.proof.commands")),
        Heading(say.text("sheet.proof.proves")),
        Items(
            (
                say.text("sheet.proof.unchanged"),
                say.text("sheet.proof.placed"),
                say.text("sheet.proof.recomputed"),
            )
        ),
        Heading(say.text("sheet.proof.not_proves")),
        Items(
            (
                say.text("sheet.proof.tail"),
                say.text("sheet.proof.whose_key"),
                say.text("sheet.proof.paper"),
                say.text("sheet.proof.part"),
            )
        ),
    )
    return Section("proof", say.text("sheet.proof.title"), blocks)


def _commands(build: str, size: int) -> str:
    return "\n".join(
        (
            f"witnessmark verify STORE --against {CHECKPOINT}",
            f"witnessmark export STORE --format bundle --build {build} --save {build}.zip",
            f"GET /v1/ledger/bundle?build={build}&since={size}",
            f"python check_bundle.py --key {KEY} --checkpoint {CHECKPOINT}",
        )
    )


def attached(material: Material, say: Say) -> tuple[Attached, ...]:
    """Files that travel inside the PDF, byte for byte as the service gives them."""
    return (
        Attached(CHECKPOINT, material.signed, say.text("sheet.proof.attached_checkpoint")),
        Attached(KEY, material.key + "\n", say.text("sheet.proof.attached_key")),
    )
