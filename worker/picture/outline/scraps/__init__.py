"""Scraps, which belong to nothing: of `grounds`, as of grass and bark, and of `gloss` on forms."""
