"""How numbers and dates are written in each language, where Django's own way is another country's."""
