"""A correction as a person sees it."""
