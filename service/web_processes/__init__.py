"""The web in several processes: gunicorn starts, watches and replaces them.

Connections are served in each as on one machine (`service.web`): with the same limits, the same
pace and the same fair turns. gunicorn's own workers would bring others.

gunicorn's first process forks the others, and loads nothing of the application: after an update
`SIGHUP` then starts processes with the new code while the old ones finish what they do.
"""
