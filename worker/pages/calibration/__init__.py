"""The test page that a printer is measured by.

`layout` says where everything is on the page; `marks` draws bars and staircases to measure,
`samples` lines and greys to look at, `form` boxes for readings; `page` writes the page.
`worker.layout.measuring.printer_readings` turns readings into corrections.
"""
