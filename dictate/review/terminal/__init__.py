"""The review by keyboard in a terminal: the same questions, keys and decisions as in the page."""
