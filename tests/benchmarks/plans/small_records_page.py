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
BLUE, GREY = "#1f5f99", "#777777"


def write_page(result: dict[str, Any]) -> None:
    """Rewrite the figures of the page, and its picture."""
    text = PAGE.read_text(encoding="utf-8")
    before, rest = text.split(START)
    after = rest.split(END)[1]
    PAGE.write_text(f"{before}{START}{figures(result)}{END}{after}", encoding="utf-8")
    draw(result)


def figures(result: dict[str, Any]) -> str:
    """The part of the page that has figures in it."""
    sizes, money = result["sizes"], result["currency"]
    rows = [
        f"| {int(size):,} | {told['kinds_tried']:.0f} of {result['kinds']} | {told['width']['mean']:.2f} "
        f"| {told['coverage']:.2f} | {told['brier']['mean']:.3f} | {told['log_loss']['mean']:.3f} "
        f"| {_beside_none(told, 'log_loss', '+.3f')} | {told['bought'] * 100:.0f} % "
        f"| {told['money']['mean']:.1f} | {_beside_none(told, 'money', '+.1f')} |"
        for size, told in sizes.items()
    ]
    made = (
        f"Invented shop. {max(told['fits'] for told in sizes.values())} records of each size; "
        f"{result['devices']} devices offered at the same prices each time; {result['unseen_jobs']} jobs "
        f"({result['unseen_attempts']} attempts) that no fit saw. Money in {money} for each device offered, "
        "declined ones included. Brackets, and upright lines in the picture: 90 % interval of the difference "
        "from no record; for the width, the narrowest and widest record."
    )
    head = (
        "| jobs on record | kinds tried | mean width of the 90 % interval | intervals that contain the truth "
        "| Brier score | log loss | log loss against no record | devices bought "
        f"| {money} a device offered | money against no record |"
    )
    return "\n".join(
        [
            "![Width, coverage, log loss and money by jobs on record](small-records.svg)",
            "",
            head,
            "|" + "---|" * (head.count("|") - 1),
            *rows,
            "",
            made,
            "",
            *_sentences(sizes, money),
            "",
        ]
    )


def _beside_none(told: dict[str, Any], name: str, form: str) -> str:
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
        narrower = 100 * (1 - told["width"]["mean"] / none["width"]["mean"])
        lead = told["money"]["less_no_record"]
        sure = "" if lead["low"] > 0 or lead["high"] < 0 else ", which may be chance"
        lines.append(
            f"- **{int(size):,} jobs**: intervals {narrower:.0f} % narrower than without a record, log loss "
            f"{told['log_loss']['mean']:.3f} in place of {none['log_loss']['mean']:.3f}. The decision "
            f"changes for {100 * told['decisions_changed']:.0f} devices in 100. "
            f"Money: {lead['mean']:+.1f} {money} a device offered{sure}."
        )
    return lines


def draw(result: dict[str, Any], path: Path = PICTURE) -> None:
    """Draw the four curves."""
    import matplotlib

    matplotlib.use("svg")
    from matplotlib import pyplot

    sizes = result["sizes"]
    at, names = range(len(sizes)), [f"{int(size):,}" for size in sizes]
    panels = {
        "Mean width of 90 % intervals": [told["width"] for told in sizes.values()],
        "Intervals that contain the truth (should be .9)": [
            {"mean": told["coverage"]} for told in sizes.values()
        ],
        "Log loss against no record": [told["log_loss"]["less_no_record"] for told in sizes.values()],
        f"{result['currency']} a device offered, against no record": [
            told["money"]["less_no_record"] for told in sizes.values()
        ],
    }
    style = {
        "svg.hashsalt": "small-records",
        "svg.fonttype": "none",
        "font.size": 9,
        "font.family": "sans-serif",
    }
    with matplotlib.rc_context(style):
        figure, axes = pyplot.subplots(2, 2, figsize=(8, 5.2), layout="constrained", sharex=True)
        for axis, (title, rows) in zip(axes.flat, panels.items(), strict=True):
            for x, row in zip(at, rows, strict=True):
                if "low" in row:
                    axis.plot([x, x], [row["low"], row["high"]], color=GREY, linewidth=1.2)
            axis.plot(at, [row["mean"] for row in rows], color=BLUE, marker="o")
            axis.set_title(title, loc="left")
            axis.spines[["top", "right"]].set_visible(False)
            axis.set_xticks(list(at), names)
        axes[0, 0].set_ylim(bottom=0)
        axes[0, 1].set_ylim(0.5, 1.02)
        axes[0, 1].axhline(0.9, color=GREY, linewidth=0.8, linestyle="--")
        for axis in axes[1]:
            axis.axhline(0, color=GREY, linewidth=0.8, linestyle="--")
            axis.set_xlabel("jobs on record (invented shop)")
        figure.savefig(path, metadata={"Date": None})
        pyplot.close(figure)
