"""Every string of a page that the browser reads as markdown, gathered from what is sent to it."""

from __future__ import annotations

from collections.abc import Iterator

from google.protobuf.message import Message

# Fields of any element or block that are markdown; options and values of text fields, cells of a grid and
# alternative texts are plain.
_MARKDOWN = {"body", "label", "help", "content", "text", "delta", "caption"}


def read_as_markup(page) -> str:
    """All of it, a string a line; cells of a static table are markdown too."""
    lines: list[str] = []
    for node in page.main:
        lines += _strings(getattr(node, "proto", None))
        if node.type == "table":
            frame = node.value.reset_index()
            lines += [str(cell) for cell in (*frame.columns, *frame.to_numpy().ravel())]
    return "\n".join(lines)


def _strings(proto: Message | None) -> Iterator[str]:
    if not isinstance(proto, Message):
        return
    for field, value in proto.ListFields():
        held = [value] if isinstance(value, str | Message) else value
        if field.type == field.TYPE_MESSAGE:
            for inner in held:
                yield from _strings(inner)
        elif field.type == field.TYPE_STRING and field.name in _MARKDOWN:
            yield from held
