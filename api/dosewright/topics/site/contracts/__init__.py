"""Requests and answers of the site calculations."""
