"""Running and remembering stages, the worker process, families of modules, files put in place in one step."""
