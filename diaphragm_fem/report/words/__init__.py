"""What is said: numbers with their units, figures by name, sentences, verdicts, cautions."""
