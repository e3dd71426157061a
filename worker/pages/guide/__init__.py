"""Pages 2 and 3, the guide: what to do with this pack, step by step.

`sections` says what may stand there, `contents` which sections a pack has. `fitting` finds the
type size in which they fill the two pages, `page` draws them. The words are in `worker/words`.
"""
