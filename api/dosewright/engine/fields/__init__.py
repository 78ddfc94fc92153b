"""The kinds of field in requests and answers."""
