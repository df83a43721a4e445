"""Files of a correction: tables, pictures, results."""
