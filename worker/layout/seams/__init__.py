"""Where the picture is cut: every partition with the fewest sheets, and the quietest one."""
