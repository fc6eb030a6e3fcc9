"""After and around marking: overview, history, export, retention."""
