"""SVG as text: shapes with escaped words, no scripts, no outside references. Grey and shape carry all meaning."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reasoner.visible import markup

__all__ = ["circle", "document", "line", "path", "polyline", "rect", "text"]

INK, QUIET, BAND, ACCENT = "#1b1b1b", "#666666", "#e4e4e4", "#0b5394"


def _n(value: float) -> str:
    return "0" if abs(value) < 0.005 else f"{value:.2f}".rstrip("0").rstrip(".")


def line(x1: float, y1: float, x2: float, y2: float, colour: str = INK, wide: float = 1, dash: str = "") -> str:
    """A straight line; `dash` as in SVG (`4 3`)."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}" stroke="{colour}" '
        f'stroke-width="{_n(wide)}"{dashed}/>'
    )


def polyline(points: Sequence[tuple[float, float]], colour: str = INK, wide: float = 1.5, dash: str = "") -> str:
    """A line through points."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    at = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
    return f'<polyline points="{at}" fill="none" stroke="{colour}" stroke-width="{_n(wide)}"{dashed}/>'


def path(points: Sequence[tuple[float, float]], fill: str) -> str:
    """A filled outline."""
    at = " ".join(f"{_n(x)},{_n(y)}" for x, y in points)
    return f'<polygon points="{at}" fill="{fill}" stroke="none"/>'


def rect(x: float, y: float, wide: float, high: float, fill: str = BAND) -> str:
    """A filled rectangle."""
    return f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(wide)}" height="{_n(high)}" fill="{fill}"/>'


def circle(x: float, y: float, r: float, fill: str = "none", colour: str = INK, wide: float = 1.2) -> str:
    """A circle."""
    return (
        f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(r)}" fill="{fill}" stroke="{colour}" stroke-width="{_n(wide)}"/>'
    )


def text(x: float, y: float, said: str, size: float = 12, anchor: str = "start", colour: str = INK) -> str:
    """One line of words; `anchor` start, middle or end."""
    place = f'x="{_n(x)}" y="{_n(y)}" font-size="{_n(size)}" text-anchor="{anchor}" fill="{colour}"'
    return f"<text {place}>{markup(said)}</text>"


def document(wide: float, high: float, title: str, about: str, shapes: Iterable[str]) -> str:
    """The whole file. `title` and `about` are what a screen reader says."""
    body = "\n".join(shapes)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(wide)}" height="{_n(high)}" '
        f'viewBox="0 0 {_n(wide)} {_n(high)}" role="img" font-family="sans-serif">\n'
        f"<title>{markup(title)}</title>\n<desc>{markup(about)}</desc>\n"
        f'<rect width="100%" height="100%" fill="#ffffff"/>\n{body}\n</svg>\n'
    )
