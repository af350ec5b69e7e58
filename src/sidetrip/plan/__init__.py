"""One computation a module, each with its own result type; nothing here formats or touches the machine."""
