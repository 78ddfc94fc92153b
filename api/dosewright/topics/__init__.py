"""The topics: one package each; this module registers them all."""
