"""The HTTP API: who may ask, what they asked for, what they get back.

One folder per resource (`references`, `packs`, `batches`, `classes`, `printers`, `people`,
`me`), each with views, schemas and documents. `http` holds what every request passes,
`access` who may do what, `runtime` what one web process keeps in memory, `serving` the
connections and threads. `app` puts the application together, `web` runs it as a process,
`supervisor` runs web and worker side by side.
"""
