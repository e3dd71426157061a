"""Where the picture is cut: of all partitions with the fewest sheets, the one with least line.

Data flows through the modules in this order: `cost_map` says what a seam costs, `cuts` finds
the best cuts of one length, `cutting_problem` describes a picture in rows and `candidates` how
many rows and pieces cover it; `stagger` keeps the seams of neighbouring rows apart;
`partition` holds a result, and `search` compares the candidates and chooses one.
"""
