"""Requests and answers of the pipe calculations."""
