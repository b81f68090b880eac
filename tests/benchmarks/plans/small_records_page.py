"""Table, picture and figures of `docs/small-records.md`, all made of one stored result.

What stands between the page's two markers is rewritten, nothing else. The picture needs
Matplotlib, which ArviZ brings on the project's default Python.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

DOCS = Path(__file__).parents[3] / "docs"
PAGE, PICTURE = DOCS / "small-records.md", DOCS / "small-records.svg"
START, END = "<!-- figures -->\n", "<!-- /figures -->\n"
GREY = "#777777"
STARTS = {"stated": "Assumptions stated for each damage kind", "default": "No assumptions stated"}
COLOURS = {"stated": "#1f5f99", "default": "#b3541e"}


def write_page(result: dict[str, Any]) -> None:
    """Rewrite the figures of the page, and its picture."""
    text = PAGE.read_text(encoding="utf-8")
    before, rest = text.split(START)
    after = rest.split(END)[1]
    PAGE.write_text(f"{before}{START}{figures(result)}{END}{after}", encoding="utf-8")
    draw(result)


def figures(result: dict[str, Any]) -> str:
    """The part of the page that has figures in it."""
    money = result["currency"]
    head = (
        "| jobs on record | kinds tried | mean width of the 90 % interval | intervals that contain the truth "
        "| Brier score | log loss | log loss against no record | devices bought "
        f"| {money} a device offered | money against no record |"
    )
    parts = ["![Width, coverage, log loss and money by jobs on record](small-records.svg)", ""]
    for start, sizes in result["starts"].items():
        rows = [
            f"| {int(size):,} | {told['kinds_tried']:.0f} of {result['kinds']} | {told['width']['mean']:.2f} "
            f"| {told['coverage']:.2f} | {told['brier']['mean']:.3f} | {told['log_loss']['mean']:.3f} "
            f"| {_against_none(told, 'log_loss', '+.3f')} | {told['bought'] * 100:.0f} % "
            f"| {told['money']['mean']:.1f} | {_against_none(told, 'money', '+.1f')} |"
            for size, told in sizes.items()
        ]
        parts += [f"**{STARTS[start]}**", "", head, "|" + "---|" * (head.count("|") - 1), *rows, ""]
        parts += [*_sentences(sizes, money), ""]
    fits = max(told["fits"] for sizes in result["starts"].values() for told in sizes.values())
    made = (
        f"Invented shop. {fits} records of each size; {result['devices']} devices offered at the same prices "
        f"each time; {result['unseen_jobs']} jobs ({result['unseen_attempts']} attempts) that no fit saw. "
        f"Money in {money} for each device offered, declined ones included. Brackets, and upright lines in "
        "the picture: 90 % interval of the difference from no record; for the width, the narrowest and "
        "widest record."
    )
    return "\n".join([*parts, made, ""])


def _against_none(told: dict[str, Any], name: str, form: str) -> str:
    """A figure less that without a record, with its interval."""
    less = told[name]["less_no_record"]
    if told["kinds_tried"] == 0:
        return ""
    return f"{less['mean']:{form}} ({less['low']:{form}} to {less['high']:{form}})"


def _sentences(sizes: dict[str, Any], money: str) -> list[str]:
    """What each step brings, in the figures of the table."""
    none, lines = sizes["0"], []
    for size, told in sizes.items():
        if size == "0":
            continue
        change = 100 * (told["width"]["mean"] / none["width"]["mean"] - 1)
        lead = told["money"]["less_no_record"]
        sure = "" if lead["low"] > 0 or lead["high"] < 0 else ", which may be chance"
        earned = (
            f"{lead['mean']:+.1f} {money} a device offered{sure}" if told["decisions_changed"] else "the same"
        )
        lines.append(
            f"- **{int(size):,} jobs**: intervals {abs(change):.0f} % {'wider' if change > 0 else 'narrower'}"
            f" than without a record, log loss {told['log_loss']['mean']:.3f} in place of "
            f"{none['log_loss']['mean']:.3f}. The decision changes for "
            f"{100 * told['decisions_changed']:.1f} devices in 100. "
            f"Money: {earned if told['decisions_changed'] else 'the same'}."
        )
    return lines


def draw(result: dict[str, Any], path: Path = PICTURE) -> None:
    """Draw the four curves."""
    import matplotlib

    matplotlib.use("svg")
    from matplotlib import pyplot

    titles = {
        "width": "Mean width of 90 % intervals",
        "coverage": "Intervals that contain the truth (should be .9)",
        "log_loss": "Log loss against no record",
        "money": f"{result['currency']} a device offered, against no record",
    }
    style = {
        "svg.hashsalt": "small-records",
        "svg.fonttype": "none",
        "font.size": 9,
        "font.family": "sans-serif",
    }
    with matplotlib.rc_context(style):
        figure, axes = pyplot.subplots(2, 2, figsize=(8, 5.2), layout="constrained", sharex=True)
        for axis, (name, title) in zip(axes.flat, titles.items(), strict=True):
            for shift, (start, sizes) in zip((-0.04, 0.04), result["starts"].items(), strict=True):
                rows = [_drawn(told[name]) for told in sizes.values()]
                at = [place + shift for place in range(len(rows))]
                for x, row in zip(at, rows, strict=True):
                    axis.plot([x, x], [row["low"], row["high"]], color=GREY, linewidth=1.2)
                means = [row["mean"] for row in rows]
                axis.plot(at, means, color=COLOURS[start], marker="os"[shift > 0], label=STARTS[start])
                axis.set_xticks(range(len(rows)), [f"{int(size):,}" for size in sizes])
            axis.set_title(title, loc="left")
            axis.spines[["top", "right"]].set_visible(False)
        axes[0, 0].set_ylim(bottom=0)
        axes[0, 0].legend(frameon=False, loc="lower left")
        axes[0, 1].axhline(0.9, color=GREY, linewidth=0.8, linestyle="--")
        for axis in axes[1]:
            axis.axhline(0, color=GREY, linewidth=0.8, linestyle="--")
            axis.set_xlabel("jobs on record (invented shop)")
        figure.savefig(path, metadata={"Date": None})
        pyplot.close(figure)


def _drawn(told: Any) -> dict[str, float]:
    """Mean, low and high of what a panel shows."""
    if isinstance(told, float):
        return {"mean": told, "low": told, "high": told}
    return told.get("less_no_record", told)
