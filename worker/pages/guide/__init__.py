"""Pages 2 and 3, the guide: what to do with this pack, step by step.

`sections` holds the text of a guide page; `paper` (with `print` and `cut`) writes that of
page 2, `support` (with `passes`, and `face_down` for mirrored packs) that of page 3; `page`
typesets both.
"""
