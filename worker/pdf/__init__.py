"""PDF files, written while they are drawn: type, vectors and pictures in exact places.

Data flows through the modules in this order: `fonts` and `text` turn strings into placed glyphs,
`palette` names colours and line weights, `typeset` breaks paragraphs, `stroke_paths` and
`indexed_image` encode lines and flat tones; `canvas` draws all of it in millimetres. `writer`
writes pages, images and, with `font_embedding` and `catalog`, everything that a document has
once. `binding` joins finished files, `raster` turns a page into pixels.
"""
