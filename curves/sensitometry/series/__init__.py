"""One thing varied from strip to strip: the trend of every number, and the setting that a wanted number needs."""
