"""The web page: forms, method sheets and their routes."""
