"""The GHS pictograms, drawn here after the shapes of the UN GHS: a red diamond with a black symbol on white."""

from __future__ import annotations

from collections.abc import Mapping

_FRAME = '<path d="M50 4 96 50 50 96 4 50Z" fill="#fff" stroke="#c8000a" stroke-width="5"/>'

_FLAME = (
    '<path d="M50 19c2 9-4 13-8 19-2-2-3-4-3-7-7 6-11 13-11 21 0 11 8 18 15 20-5-4-7-9-5-15 1-5 5-8 7-13'
    ' 4 3 5 6 5 9 2-2 3-4 3-6 5 4 8 9 7 15 0 4-3 8-7 10 10-2 19-9 19-20 0-8-4-13-8-18 0 3-1 5-3 7C61 33 56 27 50 19Z"/>'
)

_SYMBOLS: Mapping[str, str] = {
    "GHS02": f'{_FLAME}<path d="M32 75h36v4H32z"/>',
    "GHS03": (
        '<circle cx="50" cy="59" r="13.5" fill="none" stroke="#000" stroke-width="5.5"/>'
        '<path d="M50 14c2 8-3 11-6 16-2-2-3-3-3-6-6 5-9 11-9 17 0 3 1 6 3 8 3-6 9-9 15-9s12 3 15 9c2-2 3-5 3-8'
        ' 0-7-4-11-7-15 0 2-1 4-3 6C59 26 55 21 50 14Z"/><path d="M33 76h34v4H33z"/>'
    ),
    "GHS05": (
        # left: a tube that pours on metal; right: a tube that pours on a hand
        '<path d="M45 20 20.5 34.5l3 5L48 25z" transform="rotate(8 34 30)"/>'
        '<path d="M55 20 79.5 34.5l-3 5L52 25z" transform="rotate(-8 66 30)"/>'
        '<path d="M26 41c3 5 4 7 1.5 9-2 1-4-1-4-3 0-2 1.5-4 2.5-6ZM32 47c2 4 3 5.5 1 7-1.5 1-3-.5-3-2s1-3.5 2-5Z"/>'
        '<path d="M74 41c-3 5-4 7-1.5 9 2 1 4-1 4-3 0-2-1.5-4-2.5-6ZM68 45c-2 4-3 5.5-1 7 1.5 1 3-.5 3-2s-1-3.5-2-5Z"/>'
        '<path d="M18 58h7c1 4 4 5 6 2l3-2h10v6H18z"/>'
        '<path d="M48 63c5-4 11-6 16-5 2 .5 2 2 3 3 2 2 4 2 5-.5.5-1.5 2-2.5 4-2.5h6v7H66c-4 2-9 3-13 3z"/>'
    ),
    "GHS06": (
        '<path fill-rule="evenodd" d="M50 18c-12 0-19 8-19 18 0 6 3 10 6 12 1 1 1 3 1 5 0 3 3 5 12 5s12-2 12-5c0-2'
        " 0-4 1-5 3-2 6-6 6-12 0-10-7-18-19-18ZM42 33a5.5 5.5 0 1 1 0 11 5.5 5.5 0 0 1 0-11ZM58 33a5.5 5.5 0 1 1 0 11"
        ' 5.5 5.5 0 0 1 0-11ZM50 44l3 6h-6z"/>'
        '<path d="M28 60 70 77M72 60 30 77" stroke="#000" stroke-width="5.5" stroke-linecap="round"/>'
        '<path d="M26.5 57.5v5M31 78.5v-5M73.5 57.5v5M69 78.5v-5" stroke="#000" stroke-width="4.5"'
        ' stroke-linecap="round"/>'
    ),
    "GHS07": '<path d="M43.5 20h13l-3 39h-7z"/><circle cx="50" cy="71" r="6.5"/>',
    "GHS08": (
        '<path d="M50 15c-6 0-9.5 4-9.5 9.5 0 5 2 9 5 11l-.5 4c-8 2-15 5-17 12l17 27h10l17-27c-2-7-9-10-17-12'
        'l-.5-4c3-2 5-6 5-11C59.5 19 56 15 50 15Z"/>'
        '<path fill="#fff" d="M50 43l2.5 8.5 7.5-5-4 8 9 1-8.5 3.5 6.5 6.5-8.5-3L53 72l-3-7.5L47 72l-1.5-8.5-8.5'
        ' 3 6.5-6.5L35 56.5l9-1-4-8 7.5 5z"/>'
    ),
    "GHS09": (
        # a dead tree on the bank, a dead fish in the water
        '<path d="M40 62V45l-9-8 1.5-2 7.5 5V27l-6-6 1.5-1.5 5.5 4V17h3v10l7-6 1.5 1.5L44 32v8l9-7 1.5 2L44 46v16z"/>'
        '<path d="M18 62h30c-3 3-7 4-9 8H26c-1-3-4-5-8-8Z"/>'
        '<path fill-rule="evenodd" d="M46 68c6-8 18-10 26-4l8-5-2 8 3 6-9-2c-8 5-20 4-26-3ZM53 65.5l3 3M56 65.5l-3 3"/>'
        '<path d="M52.5 65.5l3.5 3.5M56 65.5 52.5 69" stroke="#fff" stroke-width="1.300"/>'
        '<path d="M30 75c6-3 10-3 16 0s10 3 16 0 5-2.5 7-2.5l-4 4c-6 2.5-12 2-17 0-6-3-9-3-15 0z"/>'
    ),
}


# how far each symbol is drawn in towards the middle, so that it keeps clear of the frame
_SCALE: Mapping[str, float] = {"GHS02": 0.92, "GHS03": 0.9, "GHS05": 0.82, "GHS06": 0.84, "GHS09": 0.76}


def pictogram(mark: str, words: str) -> str:
    """The pictogram as SVG, with the words that stand for it, escaped by the caller.

    Raises KeyError for an unknown id.
    """
    scale = _SCALE.get(mark, 1.0)
    shift = round(50 * (1 - scale), 2)
    symbol = f'<g transform="translate({shift} {shift}) scale({scale})">{_SYMBOLS[mark]}</g>'
    return (
        f'<svg class="ghs" role="img" viewBox="0 0 100 100" aria-label="{mark}: {words}">'
        f"<title>{mark}: {words}</title>{_FRAME}{symbol}</svg>"
    )
