"""Pictures: what a chart shows, and how it is drawn."""
