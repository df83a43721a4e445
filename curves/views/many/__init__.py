"""Several strips: compared, combined, joined, watched, varied in a series, kept in an archive."""
