"""Cases: what a person types, the folder it lives in, the journal of what happened, the answers as they were given."""
