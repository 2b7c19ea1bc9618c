"""The local page: the verbs' jobs in a browser, on this machine."""
