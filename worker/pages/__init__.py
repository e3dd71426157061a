"""The pages of a pack, the test page, and the papers of a class.

`pack_content` holds what all pages of a pack are drawn from. They come in the order of the
pack: `map`, `guide`, `grid`, then one `sheet` for each piece; `pack` writes them into one PDF.
`traced_lines`, `tone_key` and `lengths` are used by several of them; `stroke_file` keeps the
map's lines for covers. `calibration` is the test page; `class_papers` are covers and separators.
"""
