"""Intake: from a photo to a reference, with its master, study and preview.

Data flows through the modules in this order: `isolated` runs intake in a process of its own;
`sniff` recognises the kind of file, and `decode` decodes it, with `jpeg` and `png_tiff_damage`
to find out how much of it is damaged; `colour` converts to sRGB and grey. `intake` hands its
parts to `write_reference`, which encodes them (`jpeg_encoder`) as the tiles of the `master` and
computes the study (`detail_map`, `study_file`), and in it how much the photo resolves
(`edge_blur`, `blurred_again`). `square_up` makes a reference from a master, of
which `resample_window` reads the parts that are resampled.
"""
