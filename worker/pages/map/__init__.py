"""Page 1, the assembly map: how the pieces join.

`placement` says where the picture is on the page; `picture` is the faint picture; `page` draws
it all, `dimensions` what is measured on it, `tables` the figures and tables around it, `legend`
what the signs mean.
"""
