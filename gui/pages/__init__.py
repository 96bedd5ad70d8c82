"""How is an answer said? Its words, cautions, drawings and JSON."""
