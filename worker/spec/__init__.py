"""Spec, study and plan: frozen values that all other rooms exchange, in millimetres.

A pack begins with a `spec` (what to make, with sheet sizes from `formats`) and a `study` (what
is known of the reference). From both, `worker.layout` computes a `plan`. `tone_curve` and
`strokes` say how greys and lines are printed. `json` reads and writes specs and plans.
"""
