"""From four corners in a photo to a rectangle seen straight on.

Data flows through the modules in this order: `corners` orders and checks the four corners,
`homography` maps the rectangle into the photo, `proportion` estimates its sides' proportion and
its size in pixels; `square_up` calls them and writes the rectangle as a reference of its own, so
that crop, plan and making need not know about corners.
"""
